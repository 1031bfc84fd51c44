"""The longer tables of a pack: faults, scenarios, what is not covered, result files and cards."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from oxlatch_sim.campaign import FAULT_BOUNDS_MS, NO_FAULT
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.fault_flight import PHASES
from oxlatch_sim.remedies import NO_INPUT, UNCOVERED, uncovered
from oxlatch_tools.evidence.case import Case
from oxlatch_tools.evidence.claims import UNCOVERED_BY_DESIGN
from oxlatch_tools.evidence.page import Line, Rows
from oxlatch_tools.evidence.register import Entry

SHORT = {"purging": "purge", "opening": "open", "flowing": "flow", "releasing": "end"}
FAULT_HEAD = (
    "Fault", "Row", *(SHORT.get(phase, phase) for phase in PHASES), "Worst of all: corner; seen by, all off, latch",
)  # fmt: skip
FAULT_WIDTHS = (0.22, 0.055, *(0.079,) * len(PHASES), 0.251)
LEGEND = (
    "The worst run of each fault and phase with the parts fitted here, over every corner and stage flown: how long a "
    "fluid reached a nozzle without the other, in ms, F alone / O alone. A phase is where the fault begins; 'open' is "
    "as the last stage opens, 'end' at the release; – was not flown. OVER: beyond a bound; NC beside it: not covered, "
    "and declared so in part 8. These are simulations of a model, not measurements."
)


def severity(row: dict[str, Any]) -> tuple[float, float]:
    """Larger is worse, each fluid against its own bound."""
    shares = (row["fuel_only_ms"] / row["bound_ms"], row["oxidizer_only_ms"] / row["oxidizer_bound_ms"])
    return max(shares), sum(shares)


def fault_rows(case: Case) -> Rows | None:
    """Fault against phase with the parts fitted here; nothing when none was flown."""
    worst: dict[str, dict[str, dict[str, Any]]] = {}
    for row in case.rows():
        name, phase = str(row["fault"]).partition("@")[0], str(row["phase"])
        if name == NO_FAULT:
            continue
        known = worst.setdefault(name, {})
        if phase not in known or severity(row) > severity(known[phase]):
            known[phase] = row
    if not worst:
        return None
    is_stale = case.files["faults"].freshness == "stale"
    ordered = sorted(worst.items(), key=lambda entry: (next(iter(entry[1].values()))["hazard_row"], entry[0]))
    return Rows(FAULT_HEAD, FAULT_WIDTHS, tuple(_fault_row(name, phases, is_stale) for name, phases in ordered))


def _fault_row(name: str, phases: dict[str, dict[str, Any]], is_stale: bool) -> tuple[Line, ...]:
    worst = max(phases.values(), key=severity)
    fault = CATALOGUE.get(name)
    off = "nothing flowed" if worst["off_ms"] is None else f"{worst['off_ms']} ms"
    seen = str(worst["detected_by"]).replace("_", " ").lower() or "nothing"
    is_over = any(_over(row) for row in phases.values())
    return (
        Line(f"{'STALE: ' if is_stale else ''}{fault.words if fault else name}", is_over or is_stale),
        Line(str(worst["hazard_row"])),
        *(_cell(name, phases.get(phase), is_stale) for phase in PHASES),
        Line(f"{worst['phase']}, {str(worst['corner']).replace('-', ' ')}; {seen}, {off}, L{worst['latch']}", is_stale),
    )


def _over(row: dict[str, Any]) -> list[str]:
    return [letter for letter, within in (("F", row["within"]), ("O", row["oxidizer_within"])) if not within]


def _cell(name: str, row: dict[str, Any] | None, is_stale: bool) -> Line:
    if row is None:
        return Line("–")
    over = _over(row)
    declared = all(uncovered(name, letter) is not None for letter in over)
    mark = f" OVER {'+'.join(over)}{' NC' if declared else ''}" if over else ""
    return Line(f"{row['fuel_only_ms']:.0f} / {row['oxidizer_only_ms']:.0f}{mark}", bool(over) or is_stale, bool(over))


def hardware_lines(case: Case) -> tuple[Line, ...]:
    """How much was flown, how much there is to fly, and what each hardware option came to."""
    rows = case.data("faults").get("rows", [])
    if not rows:
        return (Line("MISSING: no campaign", True),)
    count = len(case.full_runs)
    short = len(rows) < count
    lines = [
        Line(f"{'PARTIAL: ' if short else ''}{len(rows):,} runs in this file; the full campaign has {count:,}.", short),
        Line(f"Bounds under a fault: F alone {FAULT_BOUNDS_MS[0]:g} ms, O alone {FAULT_BOUNDS_MS[1]:g} ms."),
    ]
    for name in dict.fromkeys(str(row["hardware"]) for row in rows):
        own = [row for row in rows if row["hardware"] == name]
        fuel, oxidizer = sum(not row["within"] for row in own), sum(not row["oxidizer_within"] for row in own)
        words = f"Hardware '{name}': of {len(own):,} runs {fuel} over for F alone, {oxidizer} for O alone."
        lines.append(Line(words, bool(fuel or oxidizer)))
    fitted = case.installation.sensors.fitted
    here = {name for name, fault in CATALOGUE.items() if not fault.needs or fault.needs in fitted}
    lost = here - {str(row["fault"]).partition("@")[0] for row in case.rows()}
    if lost:
        lines.append(Line(f"MISSING: not flown with the parts fitted here: {', '.join(sorted(lost))}.", True))
    return tuple(lines)


def not_covered_lines(case: Case) -> tuple[Line, ...]:
    """Everything that nothing here covers."""
    lines = [Line(f"NOT COVERED: {words}", True) for words in UNCOVERED_BY_DESIGN]
    for name, entry in UNCOVERED.items():
        words = CATALOGUE[name].words if name in CATALOGUE else name
        lines.append(
            Line(
                f"NOT COVERED: {words} ({name}): {entry.fluid} may flow alone; {entry.why}. "
                f"Would cover it: {entry.remedy}.",
                True,
            )
        )
    lines += [Line(f"NOT FITTED: {part.part}. {part.lost}", True) for part in case.unfitted]
    lines += [Line(f"No fault is flown for hazard row {row}: {why}.", True) for row, why in NO_INPUT.items()]
    return tuple(lines)


def scenario_rows(data: dict[str, Any], is_stale: bool) -> Rows:
    """Every scenario: as expected or not, where it went, what the monitors saw."""
    rows = []
    for row in data.get("scenarios", []):
        got, problems = row.get("got", {}), row.get("problems") or []
        tested = [one for one in row.get("monitors", []) if not one.get("vacuous")]
        held = sum(bool(one.get("held")) for one in tested)
        verdict = "; ".join(["NOT AS EXPECTED", *problems]) if problems else "as expected"
        cause = f", first cause {got['first_cause']}" if got.get("first_cause") else ""
        fuel_ms, oxidizer_ms = (max(got[key], default=0.0) for key in ("fuel_only_ms", "oxidizer_only_ms"))
        alone = f"F alone {fuel_ms:.1f} ms, O alone {oxidizer_ms:.1f} ms"
        cells = (
            str(row.get("scenario")),
            verdict,
            f"ends in {got.get('final_state')}{cause}; {alone}",
            f"{held} of {len(tested)} held",
        )
        rows.append(tuple(Line(words, is_stale or bool(problems) or held < len(tested)) for words in cells))
    return Rows(("Scenario", "Came out", "Got", "Invariants tested"), (0.32, 0.14, 0.38, 0.16), tuple(rows))


def register_rows(entries: list[Entry]) -> Rows:
    """What was found wrong, when, by what, what was changed, and what guards it."""
    rows = []
    for entry in entries:
        guard = "; ".join(_guard_words(name) for name in entry.guard)
        cells = (entry.date.isoformat(), entry.what, entry.found_by, entry.changed, guard)
        rows.append(tuple(Line(words, entry.is_open) for words in cells))
    return Rows(("Date", "Found", "Found by", "Changed", "Guarded by"), (0.12, 0.28, 0.14, 0.19, 0.27), tuple(rows))


def _guard_words(name: str) -> str:
    """A test by its file and its claim: names that long would break anywhere."""
    path, _, function = name.partition("::")
    if not function:
        return name
    return f"{path.rpartition('/')[2]}: {function.removeprefix('test_').replace('_', ' ')}"


def file_rows(case: Case) -> Rows:
    """Every result file: for which build, and how to make it again."""
    rows = []
    for file in case.files.values():
        is_red = file.freshness != "fresh" or not file.holds
        standing = file.why.split(":")[0] if file.why else "of this build"
        if file.freshness != "missing" and not file.holds:
            standing += "; DOES NOT HOLD"
        cells = (
            file.kind.words,
            file.kind.file,
            file.digest or "none",
            file.firmware or "none",
            (file.installation or "none") if file.kind.is_of_installation else "any",
            standing,
            file.kind.makes,
        )
        rows.append(tuple(Line(words, is_red) for words in cells))
    head = ("What", "File", "SHA-256", "Firmware", "Installation", "Stands", "Made with")
    return Rows(head, (0.19, 0.11, 0.11, 0.11, 0.13, 0.12, 0.23), tuple(rows))


def card_rows(case: Case) -> Rows:
    """Every card printed, by the digest of its file."""
    rows = list(_cards(case)) or [(Line("MISSING: no cards printed", True), Line("none", True))]
    return Rows(("Card", "SHA-256"), (0.7, 0.3), tuple(rows))


def _cards(case: Case) -> Iterator[tuple[Line, ...]]:
    is_stale = case.files["cards"].freshness == "stale"
    for card in case.data("cards").get("cards", []):
        for name in card.get("files", []):
            if not str(name).endswith(".pdf"):
                continue
            try:
                digest = hashlib.sha256(Path(name).read_bytes()).hexdigest()[:8]
            except OSError:
                digest = "MISSING: the file is gone"
            is_red = is_stale or digest.startswith("MISSING")
            mark = "STALE: " if is_stale else ""
            yield Line(f"{mark}{card.get('title')}, {Path(name).name}", is_red), Line(digest, is_red)
