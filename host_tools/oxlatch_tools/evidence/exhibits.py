"""What each piece of evidence says for this build: one function an exhibit, results in, words with a standing out.

Every number is taken from a result file or a kept bench result. A file that is missing, stale or does not hold
gives words that say so, never silence.
"""

from collections.abc import Callable, Iterator
from typing import Any

from oxlatch_sim.campaign import FAULT_BOUNDS_MS, NO_FAULT, NORMAL_BOUNDS_MS
from oxlatch_sim.campaign import Case as Run
from oxlatch_sim.remedies import uncovered
from oxlatch_tools.evidence.case import DESK, Case, Item, State, from_file
from oxlatch_tools.evidence.exhibits_proof import (
    channels,
    exhaustive,
    fitted_pairs,
    liveness,
    mutants,
    outside,
    portable,
    reference,
    second_opinion,
    symbolic,
    witnesses,
)
from oxlatch_tools.evidence.proof_reading import figures
from oxlatch_tools.planning.start import branch_m3


def monitors(case: Case) -> list[Item]:
    """What the monitors saw in the scenarios."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = [found for row in data.get("scenarios", []) for found in row.get("monitors", [])]
        tested = [found for found in rows if not found.get("vacuous")]
        broken = [found for found in tested if not found.get("held")]
        state: State = "BROKEN" if broken or not tested else "HOLDS"
        words = f"{len(tested) - len(broken)} of {len(tested)} invariants put to the test held"
        yield Item(state, f"Monitors over {len(data.get('scenarios', []))} scenarios: {words}")

    return from_file(case, "run", items)


def scenarios(case: Case) -> list[Item]:
    """Scenarios that came out as expected, those with flow among them."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = data.get("scenarios", [])
        bad = [str(row.get("scenario")) for row in rows if row.get("problems")]
        flows = sum(1 for row in rows if row.get("got", {}).get("runs"))
        words = (
            f"{len(rows) - len(bad)} of {len(rows)} scenarios came out as expected; fuel and oxidizer ran in {flows}"
        )
        yield Item("BROKEN" if bad or not flows else "HOLDS", words + (f"; not: {', '.join(bad)}" if bad else ""))

    return from_file(case, "run", items)


def normal(case: Case) -> list[Item]:
    """Exposure at the nozzles without a fault."""

    def items(_data: dict[str, Any]) -> Iterator[Item]:
        rows = [row for row in case.rows() if row.get("fault") == NO_FAULT]
        if not rows:
            yield Item("MISSING", f"MISSING: no faultless sortie with hardware '{case.hardware}' in the campaign file")
            return
        yield from _exposure(rows, f"{len(rows)} sorties without a fault", NORMAL_BOUNDS_MS)
        yield from _part_flown(case, rows, lambda run: run.fault == NO_FAULT, "sorties without a fault")

    return from_file(case, "faults", items)


def faults(case: Case) -> list[Item]:
    """Exposure at the nozzles under single faults."""

    def items(_data: dict[str, Any]) -> Iterator[Item]:
        rows = [row for row in case.rows() if row.get("fault") != NO_FAULT]
        if not rows:
            yield Item(
                "MISSING",
                f"MISSING: no faults flown with the parts fitted here; made with oxlatch faults FILE --hardware "
                f"'{case.hardware}' --json",
            )
            return
        names = {str(row["fault"]) for row in rows}
        corners, phases = {row["corner"] for row in rows}, {row["phase"] for row in rows}
        words = f"{len(rows)} runs: faults {len(names)}, phases {len(phases)}, corners {len(corners)}"
        yield from _exposure(rows, f"{words}, hardware '{case.hardware}'", FAULT_BOUNDS_MS)
        yield from _part_flown(case, rows, lambda run: run.fault != NO_FAULT, "runs with a fault")

    return from_file(case, "faults", items)


def _part_flown(case: Case, rows: list[dict[str, Any]], counts: Callable[[Run], bool], words: str) -> Iterator[Item]:
    """What the full campaign flies with these parts and this file does not."""
    runs = [run for run in case.full_runs if counts(run) and run.hardware == case.hardware]
    if len(rows) < len(runs):
        yield Item("MISSING", f"MISSING: {len(runs) - len(rows):,} of the {len(runs):,} {words} of the full campaign")


def _exposure(rows: list[dict[str, Any]], words: str, bounds: tuple[float, float]) -> Iterator[Item]:
    for letter, key, within, bound in (
        ("F", "fuel_only_ms", "within", bounds[0]),
        ("O", "oxidizer_only_ms", "oxidizer_within", bounds[1]),
    ):
        over = [row for row in rows if not row[within]]
        open_ones = sorted({str(row["fault"]) for row in over if uncovered(str(row["fault"]), letter) is None})
        declared = sorted({str(row["fault"]) for row in over if uncovered(str(row["fault"]), letter) is not None})
        most = max((float(row[key]) for row in rows if row[within]), default=0.0)
        text = f"{words}: {letter} alone at most {most:.1f} ms in the {len(rows) - len(over)} runs within {bound:g} ms"
        yield Item("HOLDS", text)
        if declared:
            worst = max(float(row[key]) for row in over)
            yield Item(
                "DECLARED",
                f"NOT COVERED, {letter} alone over {bound:g} ms, up to {worst:.0f} ms: {', '.join(declared)}; "
                "why, and what would cover it, stands in part 8",
            )
        if open_ones:
            yield Item("BROKEN", f"{letter} alone over {bound:g} ms and declared nowhere: {', '.join(open_ones)}")


def plan(case: Case) -> list[Item]:
    """Limits of the plan."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        is_within = bool(data.get("within_limits"))
        gaps = data.get("not_measured") or []
        yield Item("HOLDS" if is_within else "BROKEN", "Plan: no limit exceeded" if is_within else "Plan: over a limit")
        if gaps:
            yield Item("MISSING", f"MISSING from the installation file: {'; '.join(gaps)}")

    return from_file(case, "plan", items)


def cards(case: Case) -> list[Item]:
    """Cards printed for this installation."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        rows = data.get("cards", [])
        yield Item("HOLDS" if rows else "MISSING", f"{len(rows)} cards printed; their digests stand in part 10")
        if data.get("draft"):
            yield Item("NOT DONE", "NOT DONE: the cards are drafts")

    return from_file(case, "cards", items)


def certificate(case: Case) -> list[Item]:
    """What is on the board."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        file, board = case.files["flash"], data.get("board")
        words = f"Board {board}: firmware {file.firmware}, settings {data.get('settings')}, read back"
        yield Item("HOLDS" if file.holds else "BROKEN", "; ".join([words, *file.problems]))
        line = str(data.get("proof_line") or "NOT PROVED: the certificate names no proof")
        yield Item("HOLDS" if data.get("proof") else "BROKEN", line)
        if board == DESK:
            yield Item("MISSING", "MISSING: certificate of a board; the above is a controller played by this computer")

    return from_file(case, "flash", items)


def ticks(case: Case) -> list[Item]:
    """Time of a tick, where it was measured."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        where = str(data.get("measured_on") or "not stated where")
        yield Item("HOLDS" if case.files["ticks"].holds else "BROKEN", f"Tick, measured on {where}: {figures(data)}")
        yield from _elsewhere(data)

    return from_file(case, "ticks", items)


def link(case: Case) -> list[Item]:
    """What hosts on the link change, and what they delay."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        hosts = ", ".join(str(row["host"]) for row in data["hosts"])
        same = "what the controller does is the same under each" if data["digests_equal"] else "IT DIFFERS"
        words = (
            f"Hosts that are {hosts}: {same}, over {data.get('ticks', 0):,} ticks; a tick is longer by at most about "
            f"{data['longer_on_board_about_ms']:g} ms on the board, measured on {data.get('measured_on')}"
        )
        yield Item("HOLDS" if case.files["link"].holds else "BROKEN", words)
        yield from _elsewhere(data)

    return from_file(case, "link", items)


def replay(case: Case) -> list[Item]:
    """A recording of the simulator stepped through the controller of the certificate."""

    def items(data: dict[str, Any]) -> Iterator[Item]:
        file = case.files["replay"]
        where = "in the simulator alone" if data["mode"] == "simulator" else f"in the controller, {data['mode']}"
        same = "all the same" if file.holds else "NOT the same"
        words = f"A full sortie stepped again {where}: {data['compared']:,} ticks compared, {same}"
        if "release_to_fuel_off_ms" in data:
            words += f"; contact opened to F off at most {data['release_to_fuel_off_ms']:g} ms by its own clock"
        yield Item("HOLDS" if file.holds else "BROKEN", words)

    return from_file(case, "replay", items)


def _elsewhere(data: dict[str, Any]) -> Iterator[Item]:
    if not data.get("is_board"):
        yield Item("MISSING", "MISSING: times measured on the board itself; the above is another computer")


def residual(case: Case) -> list[Item]:
    """What the branches hold, computed from the file."""
    volumes = [
        1e6 * branch_m3(stage.fuel_branch_bore, stage.fuel_branch_length, stage.nozzles)
        for stage in case.installation.stages
    ]
    words = ", ".join(f"stage {number} {volume:.1f} mL" for number, volume in enumerate(volumes, start=1))
    return [Item("HOLDS", f"All F branches of a stage hold: {words} (computed from bores and lengths of the file)")]


EXHIBITS: dict[str, Callable[[Case], list[Item]]] = {
    made.__name__: made
    for made in (
        symbolic, exhaustive, channels, second_opinion, fitted_pairs, outside, reference, mutants,
        portable, witnesses, liveness,
        monitors, scenarios, normal, faults, plan, cards, certificate, replay, ticks, link, residual,
    )
}  # fmt: skip
