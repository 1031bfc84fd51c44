"""The pack as blocks, in the order in which a doubter asks: what is claimed, whether it is shown, what is not."""

from collections.abc import Iterator

from oxlatch_sim.campaign import FAULT_BOUNDS_MS
from oxlatch_tools.evidence.argument import (
    BENCH_STATES,
    IN_WORDS,
    Argued,
    argue,
    bench_words,
    invariant_rows,
    not_current,
    worst,
)
from oxlatch_tools.evidence.case import Case, Item, State
from oxlatch_tools.evidence.claims import ASSUMPTIONS, ENVIRONMENT, PLANES
from oxlatch_tools.evidence.page import Block, Box, Document, Heading, Line, Listing, Rows, Signatures, Words
from oxlatch_tools.evidence.pictures import stage_pictures
from oxlatch_tools.evidence.register import bench_entries, findings
from oxlatch_tools.evidence.tables import (
    LEGEND,
    card_rows,
    fault_rows,
    file_rows,
    hardware_lines,
    not_covered_lines,
    register_rows,
    scenario_rows,
)

CAUTIONS = (
    "This pack is a draft to be checked. It approves nothing and certifies nothing.",
    "The engine maker, the propeller maker, the gas supplier, local rules and licensed practice come first.",
    "Bench, gas and engine tests behind these results open with cautions of their own; read those before repeating.",
    "What is not shown is printed in the same type as what is shown. Red marks it, and so do words.",
)
ROLES = ("Builder", "Who repeated the proof", "Who witnessed the bench tests", "Inspector")


def document(case: Case, argued: list[Argued], date: str) -> Document:
    """The whole pack."""
    installation, build = case.installation, case.build
    name = installation.aircraft.name
    blocks = [
        *_first_page(case, argued, date),
        *_claims(argued),
        *_invariants(case),
        *_faults(case),
        *_bench(case),
        *_scenarios(case),
        *_assumptions(case),
        *_gaps(case, argued),
        *_register(case),
        *_files(case),
        Heading("12. Signatures", room_mm=100.0),
        Words(
            Line(
                "A signature says that its owner has read every part, the parts in red first, and has compared the "
                "digests with controller and cards. It approves nothing that only an authority can approve."
            )
        ),
        Signatures(ROLES),
    ]
    foot = f"{name} · installation {build.installation} · firmware {build.firmware} · {date}"
    return Document(f"Evidence: {name}", foot, date, tuple(blocks))


def standing_of_pack(argued: list[Argued]) -> State:
    """The worst of all claims: C0 stands on every one of them."""
    return worst([one.state for one in argued])


def _line(item: Item) -> Line:
    return Line(item.words, item.is_red)


def _first_page(case: Case, argued: list[Argued], date: str) -> Iterator[Block]:
    build, aircraft = case.build, case.installation.aircraft
    state = standing_of_pack(argued)
    digests = f"Installation {build.installation} · firmware {build.firmware} · build {build.digest} · {date}"
    yield Words(Line(digests, is_bold=True))
    if aircraft.example:
        yield Words(Line("Invented example. No such aircraft exists.", is_bold=True))
    changed = not_current(case)
    if changed:
        lines = tuple(Line(words, True) for words in changed)
        yield Box("DRAFT: results below are of another build. What differs:", lines, True)
    yield Box("Before anything else", tuple(Line(words) for words in CAUTIONS))
    yield Heading("1. The claim")
    yield Words(
        Line(
            f"C0. In every mode of this firmware, over the box of tolerances simulated, no fuel reaches a nozzle "
            f"without oxidizer of the same stage, but for a residual no larger than claim N2 states and for no longer "
            f"than {FAULT_BOUNDS_MS[0]:g} ms under any single fault listed in part 4."
        )
    )
    counts = {word: sum(one.state == word for one in argued) for word in IN_WORDS}
    spread = "; ".join(f"{count} {IN_WORDS[word]}" for word, count in counts.items() if count)
    summary = [
        Line(
            f"C0 is {IN_WORDS[state]}." if state != "BROKEN" else "C0 DOES NOT HOLD as claimed.", state != "HOLDS", True
        ),
        Line(f"Of {len(argued)} claims below it: {spread}.", state != "HOLDS"),
    ]
    yield Box("Where it stands for this very build", tuple(summary), state != "HOLDS")
    yield Box("Not fitted, and what is lost with it", _unfitted(case), bool(case.unfitted))
    rows = []
    for one in argued:
        rows.append(
            (
                Line(one.claim.key, one.is_red),
                Line(one.claim.plane, one.is_red),
                Line(one.claim.words),
                Line(one.in_words, one.is_red),
            )
        )
    yield Rows(("Claim", "Plane", "In short", "Stands"), (0.08, 0.14, 0.45, 0.33), tuple(rows))


def _unfitted(case: Case) -> tuple[Line, ...]:
    if not case.unfitted:
        return (Line("Every part that may be fitted is fitted."),)
    return tuple(Line(f"NOT FITTED: {part.part}. {part.lost}", True) for part in case.unfitted)


def _claims(argued: list[Argued]) -> Iterator[Block]:
    yield Heading("2. Claims and evidence at three planes")
    for plane, words in PLANES.items():
        yield Heading(f"Plane {plane}", 2)
        yield Words(Line(words))
        for one in argued:
            if one.claim.plane == plane:
                yield from _claim(one)


def _claim(one: Argued) -> Iterator[Block]:
    yield Heading(f"{one.claim.key} · {one.claim.plane} · {one.in_words}", 2, one.is_red)
    yield Words(Line(one.claim.words))
    assumed = [Line(f"Assumed: {words}.") for words in one.claim.assumes]
    lost = [Line(f"NOT FITTED: {part.part}. {part.lost}", True) for part in one.lost]
    yield Listing((*(_line(item) for item in one.items), *lost, *assumed))


def _invariants(case: Case) -> Iterator[Block]:
    yield Heading("3. Invariants of the commands")
    yield Words(
        Line(
            "Each holds in every tick. Shown by: methods of the proof file that name it. Watched by: its monitor over "
            "the recorded scenarios. What the methods abstract stands in part 7."
        )
    )
    found = invariant_rows(case)
    common = [words for words in found[0].assumes if sum(words in row.assumes for row in found) > len(found) / 2]
    letters = {words: chr(ord("a") + at) for at, words in enumerate(common)}
    if common:
        yield Words(Line("What most take for granted, and the letter it has in the table:"))
        yield Listing(tuple(Line(f"{letter}: {words}") for words, letter in letters.items()))
    rows = []
    for row in found:
        assumed = "; ".join(letters.get(words, words) for words in row.assumes) or "part 7"
        rows.append(
            (
                Line(row.id, row.shown_by.is_red),
                Line(row.words),
                _line(row.shown_by),
                Line(row.watched.words, row.watched.state not in ("HOLDS", "DECLARED")),
                Line(assumed, "WEAKER" in assumed),
            )
        )
    head = ("", "Invariant", "Shown by", "Watched by", "Takes for granted")
    yield Rows(head, (0.06, 0.34, 0.18, 0.24, 0.18), tuple(rows))


def _faults(case: Case) -> Iterator[Block]:
    yield Heading("4. Stages and single faults, simulated")
    yield Heading("Command, current and nozzle of each stage", 2, room_mm=140.0)
    yield from stage_pictures(case)
    yield Heading("Grid of single faults", 2)
    file = case.files["faults"]
    if file.why:
        yield Words(Line(file.why, True, True))
    yield Words(Line(LEGEND))
    yield Listing(hardware_lines(case))
    table = fault_rows(case)
    if table is None:
        yield Words(Line(f"MISSING: no fault has been flown with hardware '{case.hardware}'.", True, True))
    else:
        yield table


def _bench(case: Case) -> Iterator[Block]:
    yield Heading("5. Bench, gas and engine results")
    yield Words(
        Line(
            "Every step of the commissioning programme in order. A result counts while the sections of the "
            "installation, the settings and the firmware that its step rests on are as they were."
        )
    )
    rows = tuple(
        (Line(str(number)), Line(bench_words(one), BENCH_STATES[one.status] != "HOLDS"))
        for number, one in enumerate(case.bench, start=1)
    )
    yield Rows(("", "Result"), (0.06, 0.94), rows)


def _scenarios(case: Case) -> Iterator[Block]:
    yield Heading("6. Scenarios on the virtual bench")
    file = case.files["run"]
    if file.why:
        yield Words(Line(file.why, True, True))
    if file.data:
        yield scenario_rows(file.data, file.freshness == "stale")


def _assumptions(case: Case) -> Iterator[Block]:
    yield Heading("7. Assumptions")
    yield Listing(tuple(Line(words) for words in ASSUMPTIONS))
    yield Words(Line("What the proof takes for granted, as its file says:", is_bold=True))
    listed = [str(words) for words in case.data("prove").get("abstraction") or []]
    if listed:
        yield Listing(tuple(Line(words, case.files["prove"].freshness == "stale") for words in listed))
    else:
        yield Words(Line("MISSING: no proof file says what it assumes.", True))
    yield Words(Line("Qualification for the environment is not claimed:", is_bold=True))
    yield Listing(tuple(Line(words, True) for words in ENVIRONMENT))


def _gaps(case: Case, argued: list[Argued]) -> Iterator[Block]:
    yield Heading("8. Not covered")
    yield Listing(not_covered_lines(case))
    yield Heading("9. Open items")
    open_items = list(
        dict.fromkeys(
            (one.claim.key, item.words)
            for one in argued
            for item in one.items
            if item.state not in ("HOLDS", "DECLARED")
        )
    )
    by_words: dict[str, list[str]] = {}
    for key, words in open_items:
        by_words.setdefault(words, []).append(key)
    lines = tuple(Line(f"{', '.join(keys)}: {words}", True) for words, keys in by_words.items())
    yield Listing(lines or (Line("None."),))


def _register(case: Case) -> Iterator[Block]:
    yield Heading("10. Register of failed tests and fixes")
    yield Words(
        Line(
            "Everything that was found wrong and what was done about it, nothing left out. First the bench: every "
            "result of the commissioning programme that did not pass. Then the controller itself: what the proof, the "
            "monitors, the second specification and the simulator found in it, and the tests that now guard it."
        )
    )
    bench = list(bench_entries(case.history))
    if bench:
        yield register_rows(bench)
    else:
        count = sum(len(kept) for kept in case.history.values())
        yield Words(Line(f"No kept bench result has failed, of {count} kept.", not count))
    yield register_rows(list(findings()))


def _files(case: Case) -> Iterator[Block]:
    yield Heading("11. Digests")
    yield Words(
        Line(
            f"Firmware {case.build.firmware}; installation {case.build.installation}; build of firmware, simulator and "
            f"tools together {case.build.digest}. Controller, cards and this pack must show the same. SHA-256, first "
            "eight digits, of every result file and card read for this pack:"
        )
    )
    yield file_rows(case)
    yield card_rows(case)


def make_document(case: Case, date: str) -> tuple[Document, list[Argued]]:
    """The pack and the case it argues."""
    argued = argue(case)
    return document(case, argued, date), argued
