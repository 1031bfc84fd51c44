"""The cause-and-effect table made ready to run for one settings record.

Making the functions takes about a tenth of a second, so programs are kept for settings met before.
"""

from collections.abc import Callable, Mapping
from typing import Any

from oxlatch import reasons, vocabulary
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_code import CORRUPT_STATE, STATES, Generator, compiled, function
from oxlatch_sim.proof.reference_table import CONSTANTS, SETTING_NAMES, load_table, reason_place

FLOW_STATES = (vocabulary.LEAD_IN, vocabulary.RUN, vocabulary.RUN_DOWN)
STAGE_STATES = (*FLOW_STATES, vocabulary.BENCH_GAS, vocabulary.BENCH_DRY)
KEPT_PROGRAMS = 16

Place = tuple[int, int]  # word and bit of a reason
Test = Callable[..., Any]


class Program:
    """Functions per state, and what the table says of each cause; nothing in it changes while it runs."""

    def __init__(self, settings: Settings, table: Mapping[str, Any]) -> None:
        generator = Generator(table, settings)
        states = range(len(STATES))
        self.judge: list[Test] = [compiled(generator.judge(n), "judge") for n in (*states, CORRUPT_STATE)]
        self.after: Test = compiled(generator.after(vocabulary.LEAD_IN), "after")
        self.stages: dict[int, Test] = {n: compiled(generator.stages(n), "stages") for n in STAGE_STATES}
        self.outputs: list[Test] = [compiled(generator.outputs(n), "outputs") for n in states]
        self.overlays: list[Test] = [compiled(generator.overlays(n), "overlays") for n in states]
        index = generator.index
        self.effect_hits = [index[f"effect: {name}"] for name in vocabulary.CLASS_NAMES]
        self.lamp_hits = [index[f"lamp: {name}"] for name in STATES]
        self.overlay_hits = [index[f"overlay: {row['id']}"] for row in table["overlay"]]
        self.lamp_words: dict[tuple[int, int], int] = {}
        self.refusals = [self._refusal(row, generator) for row in table["refusal"]]
        self.reaction: dict[Place, int] = {}
        self.latch: dict[Place, int] = {}
        self.also: dict[Place, tuple[str, ...]] = {}
        self.classify = 0
        for row in table["cause"]:
            place = reason_place(row["reason"])
            self.reaction[place] = CONSTANTS[row["class"].replace("-", "_")]
            self.latch[place] = row["latch"]
            self.also[place] = tuple(row.get("also", ()))
            if row.get("classify"):
                self.classify |= place[1]
        self.reason_index = {(row[0], row[1]): n for n, row in enumerate(reasons.RULES)}
        self.tell_mask = sum(reason_place(row["reason"])[1] for row in table["note"] if row["tell"])

    @staticmethod
    def _refusal(row: Mapping[str, Any], generator: Generator) -> tuple[int, int, Test]:
        source = function("refused", "v, m", [f"return {generator.test(row['test'], vocabulary.READY)}"])
        place = reason_place(row["reason"])
        return place[1], generator.index[f"refusal: {row['reason']}"], compiled(source, "refused")


_kept: dict[tuple[int, ...], Program] = {}


def program_of(settings: Settings, table: Mapping[str, Any]) -> Program:
    """The program for these settings, from those kept if the table is the usual one."""
    if table is not load_table():
        return Program(settings, table)
    key = tuple(int(getattr(settings, name)) for name in sorted(SETTING_NAMES))
    program = _kept.get(key)
    if program is None:
        if len(_kept) >= KEPT_PROGRAMS:
            _kept.pop(next(iter(_kept)))
        program = _kept[key] = Program(settings, table)
    return program
