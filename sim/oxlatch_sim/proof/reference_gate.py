"""The last interlock as the table says it: what is driven, given anything the sequencer may ask.

Made from the `interlock` section alone, so it can be compared with the firmware's gate under arbitrary
requests as well as under sensible ones.
"""

from collections.abc import Callable, Mapping
from typing import Any

from oxlatch import vocabulary
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference_code import compiled, function, row_names
from oxlatch_sim.proof.reference_table import Resolver, load_table


class InterlockMemory:
    """Ticks each stage's oxidizer has been driven, and driven alone; ticks since the contact was closed."""

    def __init__(self) -> None:
        self.ox_age = [0] * vocabulary.STAGES_MAX
        self.alone = [0] * vocabulary.STAGES_MAX
        self.released_for = 1 << 20
        self.away_for = 0
        self.driven_before = 0
        self.busy_before = 0
        self.blocked = 0  # stages whose oxidizer was alone for too long


def _interlock_lines(rows: list[tuple[int, str]], holds: list[int], refuses: list[int]) -> list[str]:
    """Nested tests that set `drives` and count which row decided."""
    lines = ["drives = True"]
    for number, test in rows:
        lines.append(f"if {test}: h[{holds[number]}] += 1")
        lines.append(f"else: drives = False; h[{refuses[number]}] += 1")
    return lines


class Interlock:
    """Drives outputs from requests. `hits` counts, per row, ticks in which it held and in which it refused."""

    def __init__(
        self, settings: Settings, table: Mapping[str, Any] | None = None, hits: list[int] | None = None
    ) -> None:
        self.table = table or load_table()
        self.settings = settings
        self.hits = hits if hits is not None else [0] * len(row_names(self.table))
        self.memory = InterlockMemory()
        self.ox = self.fuel = self.bits = 0
        self._drive: Callable[..., tuple[int, int, int]] = compiled(self._source(), "drive")
        asked = Resolver(self.table, settings).source("bench_asked", {})
        self._on_bench: Callable[[Any], bool] = compiled(function("bench", "v", [f"return {asked}"]), "bench")

    def step(self, v: Any, ask_ox: int, ask_fuel: int, ask_bits: int) -> None:
        """One tick: verdicts and requests in; `ox`, `fuel`, `bits` hold what is driven."""
        self.ox, self.fuel, self.bits = self._drive(v, self.memory, ask_ox, ask_fuel, ask_bits, self.hits)
        memory = self.memory
        busy = self.ox | memory.blocked
        if busy | memory.busy_before:
            self._follow(v, self.ox, self.fuel, memory.blocked)
        memory.busy_before = busy

    def exceeded(self, v: Any, asked: tuple[int, int, int], driven: tuple[int, int, int]) -> tuple[int, int, int]:
        """What another interlock has driven for the same request although the table forbids it.

        Each of `asked` and `driven` is (ox, fuel, bits). The memory follows what was really driven, so every
        tick is judged by itself.
        """
        allowed = self._drive(v, self.memory, *asked, self.hits)
        self._follow(v, driven[0], driven[1], 0)
        return driven[0] & ~allowed[0], driven[1] & ~allowed[1], driven[2] & ~allowed[2]

    def _follow(self, v: Any, ox: int, fuel: int, blocked: int) -> None:
        g = self.memory
        on_bench = self._on_bench(v)
        for stage in range(self.settings.stages):
            this = 1 << stage
            g.ox_age[stage] = g.ox_age[stage] + 1 if ox & this else 0
            if ox & this and not fuel & this:
                g.alone[stage] += 0 if on_bench else 1
            elif not blocked & this:
                g.alone[stage] = 0
        g.driven_before = ox

    def _source(self) -> str:
        names = {name: number for number, name in enumerate(row_names(self.table))}
        rows = list(self.table["interlock"])
        holds = [names[f"interlock holds: {row['output']} - {row['condition']}"] for row in rows]
        refuses = [names[f"interlock refuses: {row['output']} - {row['condition']}"] for row in rows]
        resolver = Resolver(self.table, self.settings)

        def of(output: str, stage: int) -> list[tuple[int, str]]:
            return [
                (number, resolver.source(row["test"], _places(stage)))
                for number, row in enumerate(rows)
                if row["output"] == output
            ]

        body = [f"mask = {(1 << self.settings.stages) - 1}", "ask_ox &= mask", "ask_fuel &= mask"]
        held = resolver.source("push_held", {})
        body.append(f"g.released_for = 0 if {held} else g.released_for + 1")
        body.append(f"g.away_for = 0 if v.master and ({held}) else g.away_for + 1")
        body.append("ox = fuel = bits = g.blocked = 0")
        for stage in range(self.settings.stages):
            body += self._stage_lines(stage, of, holds, refuses)
        for output, bit in (
            ("master_fuel", vocabulary.OUT_MASTER_FUEL),
            ("purge", vocabulary.OUT_PURGE),
            ("run", vocabulary.OUT_RUN),
            ("master_ox", vocabulary.OUT_MASTER_OX),
        ):
            body.append(f"if ask_bits & {bit}:")
            lines = [*_interlock_lines(of(output, 0), holds, refuses), f"if drives: bits |= {bit}"]
            body += [f"    {line}" for line in lines]
        body.append("return ox, fuel, bits")
        return function("drive", "v, g, ask_ox, ask_fuel, ask_bits, h", body)

    def _stage_lines(
        self,
        stage: int,
        of: Callable[[str, int], list[tuple[int, str]]],
        holds: list[int],
        refuses: list[int],
    ) -> list[str]:
        this = 1 << stage
        lines = ["fuel_may = 0", f"if ask_fuel & {this}:"]
        inner = [*_interlock_lines(of("fuel", stage), holds, refuses), "fuel_may = drives"]
        lines += [f"    {line}" for line in inner]
        ordinary = [row for row in of("ox", stage) if not self.table["interlock"][row[0]].get("latches")]
        latching = [row for row in of("ox", stage) if self.table["interlock"][row[0]].get("latches")]
        lines.append(f"if ask_ox & {this}:")
        inner = [*_interlock_lines(ordinary, holds, refuses), "if drives:"]
        inner += [f"    {line}" for line in _interlock_lines(latching, holds, refuses)]
        inner += [f"    if drives: ox |= {this}", f"    else: g.blocked |= {this}"]
        lines += [f"    {line}" for line in inner]
        lines.append(f"if fuel_may and ox & {this}: fuel |= {this}")
        return lines


def _places(stage: int) -> dict[str, str | int]:
    this = 1 << stage
    return {
        "run_asked": f"ask_bits & {vocabulary.OUT_RUN} != 0",
        "purge_asked": f"ask_bits & {vocabulary.OUT_PURGE} != 0",
        "master_fuel_asked": f"ask_bits & {vocabulary.OUT_MASTER_FUEL} != 0",
        "any_fuel": "fuel != 0",
        "fuel_may": "fuel_may",
        "was_driven": f"g.driven_before & {this} != 0",
        "ox_age": f"g.ox_age[{stage}]",
        "alone": f"g.alone[{stage}]",
        "proven": f"v.proof & {this} != 0",
        "has_current": f"v.current & {this} != 0",
        "released_for": "g.released_for",
        "away_for": "g.away_for",
    }
