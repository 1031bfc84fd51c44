"""The single-fault campaign: every fault, at every phase of a sortie, at corners of the tolerance box, with and without
the recommended hardware, and what reached the nozzles.

A healthy sortie is flown once per corner and hardware option; every fault then begins from its snapshot at the start
of a phase. All stages flow together, tested as a pattern or not, so that every valve is reached.
"""

import gc
import multiprocessing
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from typing import Any

from oxlatch.settings import FIELDS, Settings
from oxlatch.vocabulary import FIT_ALL
from oxlatch_sim.altitude_row import ROW_FIELDS
from oxlatch_sim.bench import Bench
from oxlatch_sim.corners import (
    HARDWARE,
    NOMINAL,
    all_corners,
    corner_plant,
    eighth_corners,
    hardware_fitted,
    hardware_named,
    hardware_plant,
    hardware_settings,
)
from oxlatch_sim.fault_catalogue import CATALOGUE
from oxlatch_sim.fault_flight import PHASES, FaultFlight, Finding, reached
from oxlatch_sim.fault_kinds import STAGE
from oxlatch_sim.faults import parse_name
from oxlatch_sim.flight import Flight
from oxlatch_sim.inputs import INPUT_BITS, SAMPLED
from oxlatch_sim.plant.parameters import PlantParameters

NO_FAULT = "none"
FAULT_BOUNDS_MS = (45.0, 150.0)
"""Fuel-only and oxidizer-only under a single fault: less than one intake event, and 3 to 4 engine cycles."""
NORMAL_BOUNDS_MS = (10.0, 90.0)
SEED = 7
LATE_PHASES = PHASES[2:]
NOMINAL_ONLY = ("no master oxidizer", "none")
"""Hardware options flown at the nominal corner alone."""
CHUNK = 40
DASK_TIMEOUT = "10s"


@dataclass(frozen=True)
class Case:
    """One run: a fault, where it begins, and on which aircraft. `stages` are the stages pushed."""

    fault: str
    phase: str
    corner: str
    hardware: str
    stages: tuple[int, ...]


@dataclass(frozen=True)
class Row:
    """What one run came to. `bound_ms` and `within` are about fuel alone, the other pair about oxidizer alone."""

    fault: str
    phase: str
    corner: str
    hardware: str
    stages: str
    hazard_row: int
    fuel_only_ms: float
    oxidizer_only_ms: float
    detected_by: str
    off_ms: int | None
    latch: int
    final_state: str
    bound_ms: float
    within: bool
    oxidizer_bound_ms: float
    oxidizer_within: bool

    def plain(self) -> dict[str, Any]:
        """As a dictionary."""
        return asdict(self)


@dataclass(frozen=True)
class Aircraft:
    """What every worker needs to know of the aircraft."""

    plant: PlantParameters
    settings: dict[str, int]

    @classmethod
    def of(cls, plant: PlantParameters, settings: Settings) -> "Aircraft":
        """From a plant and its settings, with every pattern allowed."""
        fields = {name: getattr(settings, name) for name, *_rest in FIELDS}
        for name in ROW_FIELDS:
            fields[name] = (1 << (1 << fields["stages"])) - 2
        return cls(plant, fields)

    @property
    def stages(self) -> tuple[int, ...]:
        """Numbers of all stages."""
        return tuple(range(1, self.settings["stages"] + 1))

    @property
    def fitted(self) -> int:
        """The word of fitted inputs."""
        return self.settings["fitted"]

    def unpacked(self) -> Settings:
        """The settings as the controller reads them."""
        settings = Settings()
        for name, value in self.settings.items():
            setattr(settings, name, value)
        return settings


def fault_names(stages: int, every_stage: bool, fitted: int = FIT_ALL) -> list[str]:
    """Every fault of the catalogue that an aircraft can have; a stage's at every stage, or at the smallest alone."""
    names = []
    for name, fault in CATALOGUE.items():
        if fault.needs and not fitted & INPUT_BITS[fault.needs]:
            continue
        if fault.part != STAGE:
            names.append(name)
        else:
            names += [f"{name}@{stage}" for stage in range(1, (stages if every_stage else 1) + 1)]
    return names


def patterns(stages: int) -> list[tuple[int, ...]]:
    """Every non-empty set of stages."""
    return [tuple(n + 1 for n in range(stages) if bits >> n & 1) for bits in range(1, 1 << stages)]


def normal_cases(stages: int, corners: Iterable[str]) -> list[Case]:
    """Whole sorties without a fault: every pattern at every corner, recommended hardware."""
    return [
        Case(NO_FAULT, PHASES[0], corner, HARDWARE[0].name, pattern)
        for corner in corners
        for pattern in patterns(stages)
    ]


def full_cases(stages: int, fitted: int = FIT_ALL) -> list[Case]:
    """Everything: at the nominal corner all phases and stages; at eight corners the phases from the push on.

    What a fault at rest or in a purge does before the push does not depend on the corner's flows and times; its stage
    faults are tried at the smallest stage, where a given residue of fuel lasts longest. Without the master oxidizer
    valve alone, without any of the parts, and for an input beyond the core, whose verdicts depend on no corner, the
    nominal corner is enough.
    """
    everything = tuple(range(1, stages + 1))
    cases = normal_cases(stages, all_corners())
    for option in HARDWARE:
        there = hardware_fitted(option, fitted)
        for name in fault_names(stages, True, there):
            if option.is_whole or not _is_slow_input(name):
                cases += [Case(name, phase, NOMINAL, option.name, everything) for phase in PHASES]
        if option.name in NOMINAL_ONLY:
            continue
        for corner in eighth_corners()[1:]:
            for name in fault_names(stages, False, there):
                if not _is_slow_input(name):
                    cases += [Case(name, phase, corner, option.name, everything) for phase in LATE_PHASES]
    return cases


def _is_slow_input(name: str) -> bool:
    return CATALOGUE[name.partition("@")[0]].needs in SAMPLED


def blocks(cases: Iterable[Case]) -> list[list[Case]]:
    """Cases that share a healthy sortie, in chunks that keep every worker busy."""
    groups: dict[tuple[str, str, tuple[int, ...]], list[Case]] = {}
    for case in cases:
        groups.setdefault((case.corner, case.hardware, case.stages), []).append(case)
    return [group[at : at + CHUNK] for group in groups.values() for at in range(0, len(group), CHUNK)]


def bench_for(aircraft: Aircraft, case: Case) -> Bench:
    """A fresh bench at the corner and with the hardware of a case."""
    option = hardware_named(case.hardware)
    settings = hardware_settings(option, aircraft.unpacked())
    plant = hardware_plant(option, corner_plant(case.corner, aircraft.plant, settings))
    return Bench(plant, settings, SEED)


def run_block(aircraft: Aircraft, cases: list[Case]) -> list[Row]:
    """Fly the healthy sortie of a block once, then every case from its phase."""
    bench = bench_for(aircraft, cases[0])
    tokens = reached(bench, cases[0].stages, {case.phase for case in cases})
    flight = FaultFlight(bench, cases[0].stages)
    rows = []
    # Snapshots and tables live as long as the block: keeping them out of every collection halves its cost.
    gc.freeze()
    for case in cases:
        bench.restore(tokens[case.phase])
        flight.reset()
        flight.fly_on(case.phase, None if case.fault == NO_FAULT else case.fault)
        rows.append(row_of(case, flight.finding()))
    gc.unfreeze()
    return rows


def row_of(case: Case, finding: Finding) -> Row:
    """The row of a case."""
    fuel_bound, oxidizer_bound = NORMAL_BOUNDS_MS if case.fault == NO_FAULT else FAULT_BOUNDS_MS
    return Row(
        fault=case.fault,
        phase=case.phase,
        corner=case.corner,
        hardware=case.hardware,
        stages="+".join(str(stage) for stage in case.stages),
        hazard_row=0 if case.fault == NO_FAULT else CATALOGUE[case.fault.partition("@")[0]].row,
        fuel_only_ms=round(finding.fuel_only_ms, 2),
        oxidizer_only_ms=round(finding.oxidizer_only_ms, 2),
        detected_by=finding.detected_by,
        off_ms=finding.off_ms,
        latch=finding.latch,
        final_state=finding.final_state,
        bound_ms=fuel_bound,
        within=finding.fuel_only_ms <= fuel_bound,
        oxidizer_bound_ms=oxidizer_bound,
        oxidizer_within=finding.oxidizer_only_ms <= oxidizer_bound,
    )


def run(aircraft: Aircraft, cases: list[Case], workers: int = 1, dask: str | None = None) -> Iterator[list[Row]]:
    """Run all cases, yielding the rows of one block after the other in the order in which they end.

    `workers` processes of this machine, or the workers of an existing Dask cluster at address `dask`. Errors:
    ValueError before anything runs, when a fault, corner or hardware option does not exist.
    """
    for case in cases:
        if case.fault != NO_FAULT:
            parse_name(case.fault, len(aircraft.stages))
        hardware_named(case.hardware)
    for corner in {case.corner for case in cases}:
        corner_plant(corner, aircraft.plant, aircraft.unpacked())
    work = blocks(cases)
    if dask is not None:
        yield from _on_cluster(aircraft, work, dask)
    elif workers <= 1:
        for block in work:
            yield run_block(aircraft, block)
    else:
        with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context()) as pool:
            futures = [pool.submit(run_block, aircraft, block) for block in work]
            for future in as_completed(futures):
                yield future.result()


def _on_cluster(aircraft: Aircraft, work: list[list[Case]], address: str) -> Iterator[list[Row]]:
    try:
        from dask import distributed
    except ImportError as error:
        raise ValueError("a Dask cluster needs the package dask[distributed], which is not installed") from error
    try:
        client = distributed.Client(address, timeout=DASK_TIMEOUT)
    except (OSError, ValueError) as error:
        raise ValueError(f"no Dask scheduler answers at {address!r}: {error}") from error
    with client:
        common = client.scatter(aircraft, broadcast=True)
        futures = client.map(lambda block, shared: run_block(shared, block), work, shared=common, pure=False)
        for _future, rows in distributed.as_completed(futures, with_results=True):
            yield rows


def recorded(aircraft: Aircraft, case: Case, installation: str = "00000000") -> tuple[Finding, Flight]:
    """One case again from power-up, with a recording of the whole flight."""
    bench = bench_for(aircraft, case)
    flight = Flight(bench, installation)
    sortie = FaultFlight(bench, case.stages, flight.step)
    sortie.to_phase(case.phase)
    sortie.reset()
    sortie.fly_on(case.phase, None if case.fault == NO_FAULT else case.fault)
    return sortie.finding(), flight


def worst_by_fault(rows: Iterable[Row]) -> dict[str, Row]:
    """Per fault the worst row: see `severity`."""
    worst: dict[str, Row] = {}
    for row in rows:
        known = worst.get(row.fault)
        if known is None or severity(row) > severity(known):
            worst[row.fault] = row
    return worst


def severity(row: Row) -> tuple[float, ...]:
    """What makes one row worse than another: fuel alone, then oxidizer alone, each in fifths of its bound.

    Within the same fifths the row with the higher latch tells more of the fault; then the milliseconds themselves.
    """
    fuel_fifths = row.fuel_only_ms * 5.0 // row.bound_ms
    oxidizer_fifths = row.oxidizer_only_ms * 5.0 // row.oxidizer_bound_ms
    return fuel_fifths, oxidizer_fifths, row.latch, row.fuel_only_ms, row.oxidizer_only_ms
