"""`oxlatch cards`: what goes into the cockpit, the hangar and the logbook, as PDF with pictures to look at first."""

from pathlib import Path
from typing import Any

import click

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_tools.commands.plan import printed_date, read_installation, slug, waiting
from oxlatch_tools.installation import Installation
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output
from oxlatch_tools.presentation import Units

YEARLY = "inspection"
"""The one paper that runs over several pages and needs the firmware's digest: no part of the deck."""


@click.command("cards")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--only", multiple=True, metavar="NAME", help="Only this card; may be given again.")
@click.option("--list", "only_list", is_flag=True, help="List the cards and print none.")
@click.option(
    "--changed-from",
    "before_path",
    type=click.Path(path_type=Path),
    help="Another installation file: add the change sheet from that one to FILE.",
)
@click.option("--units", type=click.Choice(["metric", "us"]), help="Units of the cards instead of the file's.")
@click.option("--date", "date_text", help="Date printed on the cards, YYYY-MM-DD; today's when not given.")
@click.option(
    "--previews/--no-previews", "with_previews", default=True, show_default=True, help="Write PNGs of the pages."
)
@out_option
@json_option
@reporting("cards")
def command(
    file: Path | None,
    only: tuple[str, ...],
    only_list: bool,
    before_path: Path | None,
    units: Units | None,
    date_text: str | None,
    with_previews: bool,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Print the cards of the installation in FILE, the Alpine tug when none is named.

    Every card carries the installation digest, the date, cautions and room for a signature, and is a DRAFT until the
    file holds the builder's own tested figures. Exit 1 when the plan exceeds a limit.
    """
    from oxlatch_tools.cards.deck import MAKERS

    names = [*MAKERS, YEARLY]
    if only_list:
        return Outcome("cards", ok=True, result={"cards": names}, text="\n".join(names))
    unknown = [name for name in only if name not in names]
    if unknown:
        raise BadInput(f"--only: {unknown[0]!r} is no card; allowed: {', '.join(names)}")
    installation = read_installation(file)
    before = None if before_path is None else read_installation(before_path)
    return print_cards(
        installation,
        before,
        only,
        units or installation.aircraft.units,
        printed_date(date_text),
        with_previews,
        out_dir,
        as_json,
    )


def print_cards(
    installation: Installation,
    before: Installation | None,
    only: tuple[str, ...],
    units: Units,
    date: str,
    with_previews: bool,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Make the plan, then the cards; write each as its own PDF."""
    from oxlatch_tools.cards.changes import change_sheet, changes_between, reopened
    from oxlatch_tools.cards.deck import MAKERS, origin_of
    from oxlatch_tools.cards.preview import previews
    from oxlatch_tools.cards.sheet import cards_pdf
    from oxlatch_tools.evidence.inspection import inspection_card
    from oxlatch_tools.planning.plan import make_plan, missing_figures

    with bad_input_from(PhysicsRangeError), waiting(as_json):
        plan = make_plan(installation)
        cards = [make(plan, units) for name, make in MAKERS.items() if not only or name in only]
        if not only or YEARLY in only:
            cards.append(inspection_card(installation, units, firmware_digest()))
        if before is not None:
            cards.append(change_sheet(before, installation))
        origin = origin_of(plan, date, firmware_digest())
        pdfs = [(card, cards_pdf([card], origin)) for card in cards]
    name = slug(installation.aircraft.name)
    rows: list[dict[str, Any]] = []
    for card, pdf in pdfs:
        written = [write_output(out_dir, f"card-{name}-{card.key}.pdf", pdf)]
        for number, png in enumerate(previews(pdf) if with_previews else [], start=1):
            written.append(write_output(out_dir, f"card-{name}-{card.key}-{number}.png", png))
        rows.append({"card": card.key, "title": card.title, "files": [str(path) for path in written]})
    found = [] if before is None else changes_between(before, installation)
    missing = missing_figures(installation)
    text = "\n".join(f"{row['title']:34} {row['files'][0]}" for row in rows)
    lines = [f"{origin.marks() or 'Cards'}: {installation.aircraft.name}, installation {installation.digest}", text]
    lines += [f"A draft, because not yet in the file: {item}." for item in missing]
    lines += [f"Changed: {change.where}: {change.before} → {change.after}" for change in found]
    lines += [f"Re-opened: {test}" for test in reopened(found)]
    problems = [finding.text() for _page, finding in plan.findings() if finding.severity == "exceeded"]
    return Outcome(
        "cards",
        ok=plan.is_within_limits,
        result={
            "draft": origin.is_draft,
            "missing": missing,
            "cards": rows,
            "changes": [vars(change) for change in found],
            "reopened": reopened(found),
        },
        problems=problems,
        installation=installation.digest,
        firmware=firmware_digest(),
        text="\n".join(lines),
    )
