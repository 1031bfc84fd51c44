"""The case a pack is made from, and what one piece of evidence is."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from oxlatch_sim.campaign import Case as Run
from oxlatch_sim.campaign import full_cases
from oxlatch_tools.commissioning.results import Kept, Standing
from oxlatch_tools.evidence.result_files import Build, ResultFile
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_fitted import NotFitted, not_fitted
from oxlatch_tools.installation_settings import fitted_mask

DESK = "desk"
"""The board that is no board: a controller played by a computer."""
State = Literal["HOLDS", "DECLARED", "NOT DONE", "MISSING", "STALE", "BROKEN"]
ORDER: tuple[State, ...] = ("HOLDS", "DECLARED", "NOT DONE", "MISSING", "STALE", "BROKEN")
"""From best to worst. DECLARED: outside a bound, and said so in the list of what is not covered."""


@dataclass(frozen=True)
class Item:
    """One piece of evidence: its standing, and words that end with where they come from."""

    state: State
    words: str

    @property
    def is_red(self) -> bool:
        """Whether it must be shown in red."""
        return self.state != "HOLDS"


@dataclass(frozen=True)
class Case:
    """Everything a pack is made from."""

    installation: Installation
    build: Build
    files: dict[str, ResultFile]
    bench: list[Standing]
    history: dict[str, list[Kept]]

    @property
    def unfitted(self) -> list[NotFitted]:
        """Optional parts that this installation does without."""
        return not_fitted(self.installation)

    @property
    def hardware(self) -> str:
        """The campaign's name for the parts fitted here, clamps as drawn."""
        missing = {part.part for part in self.unfitted}
        proof, master = "oxidizer proof" in missing, "master fuel valve" in missing
        return "none" if proof and master else "no proof" if proof else "no master fuel" if master else "recommended"

    @property
    def full_runs(self) -> list[Run]:
        """Every run of the full campaign with the inputs fitted here."""
        return _every_run(len(self.installation.stages), fitted_mask(self.installation))

    def data(self, key: str) -> dict[str, Any]:
        """The result in a file; empty when missing."""
        return self.files[key].data

    def rows(self) -> list[dict[str, Any]]:
        """Rows of the fault campaign flown with the parts fitted here."""
        return [row for row in self.data("faults").get("rows", []) if row.get("hardware") == self.hardware]


@cache
def _every_run(stages: int, fitted: int) -> list[Run]:
    return full_cases(stages, fitted)


def from_file(case: Case, key: str, items: Callable[[dict[str, Any]], Iterator[Item]]) -> list[Item]:
    """Items read from one file, each marked when the file is stale; one item when there is no file.

    Whatever the command itself found wrong comes with them: no reading of the parts can hide it.
    """
    file = case.files[key]
    if file.freshness == "missing":
        return [Item("MISSING", file.why)]
    found = list(items(file.data))
    if not file.holds:
        said = file.problems or ("it does not hold",)
        told = (" ".join(words.split()) for words in said)
        found += [Item("BROKEN", f"{file.kind.file}, found by the command itself: {words}") for words in told]
    if file.freshness == "stale":
        return [Item("STALE", f"{file.why}. It said: {item.words}") for item in found]
    return found
