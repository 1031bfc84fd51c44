"""Single faults of the inputs beyond the core, of the master oxidizer valve, and what those inputs are there to see."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from oxlatch.vocabulary import COIL_MASTER_OX, EX_FIRE, EX_KNOCK, EX_MIXTURE_RICH, EX_RETARD
from oxlatch_sim.fault_kinds import Action, Change, Effect, ExtraContact, Fault, contact_failures
from oxlatch_sim.plant import sensors
from oxlatch_sim.plant.valve import JAMMED_OPEN, JAMMED_SHUT

if TYPE_CHECKING:
    from oxlatch_sim.bench import Bench

MASTER = "master oxidizer valve"


def _slow(prefix: str, path: str, what: str, row: int, needs: str, drift_s: float) -> Iterator[Fault]:
    """The ways a slow sensor fails; it drifts by `drift_s` of its whole units a second."""
    kinds = (
        ("open", sensors.OPEN, "lead open", 0.0),
        ("shorted", sensors.SHORTED, "lead shorted", 0.0),
        ("frozen", sensors.FROZEN, "stuck at its last value", 0.0),
        ("drifts_up", sensors.DRIFTING, "drifts upwards", drift_s),
        ("drifts_down", sensors.DRIFTING, "drifts downwards", -drift_s),
        ("noisy", sensors.NOISY, "full of noise", 0.0),
        ("late", sensors.LATE, "10 s late", 0.0),
    )
    for name, kind, words, drift in kinds:
        effects: tuple[Effect, ...] = (Change(f"{path}.fault", kind),)
        if drift:
            effects += (Change(f"{path}.drift_s", drift),)
        yield Fault(f"{prefix}_{name}", row, f"{what} {words}", effects, needs=needs)


def _airspeed() -> Iterator[Fault]:
    kinds = (
        ("open", sensors.OPEN, "lead open"),
        ("shorted", sensors.SHORTED, "shorted to its supply"),
        ("frozen", sensors.FROZEN, "stuck at its last value"),
        ("noisy", sensors.NOISY, "full of noise"),
    )
    for name, kind, words in kinds:
        change = Change("plant.extras.airspeed.fault", kind)
        yield Fault(f"airspeed_{name}", 54, f"airspeed sensor {words}", (change,), needs="airspeed")
    for name, drift in (("drifts_up", 60.0), ("drifts_down", -60.0)):
        effects = (
            Change("plant.extras.airspeed.fault", sensors.DRIFTING),
            Change("plant.extras.airspeed.drift_mv_s", drift),
        )
        words = f"airspeed sensor drifts {'up' if drift > 0 else 'down'}wards"
        yield Fault(f"airspeed_{name}", 54, words, effects, needs="airspeed")


def _contact(prefix: str, bit: int, what: str, row: int, needs: str) -> Iterator[Fault]:
    for name, kind, words in contact_failures("300 ms"):
        yield Fault(f"{prefix}_{name}", row, f"{what} {words}", (ExtraContact(bit, kind),), needs=needs)


def _master_oxidizer() -> Iterator[Fault]:
    """Mechanical and electrical faults of the valve at the bottle; commanded or not, it flows nothing by itself."""
    path = "plant.master_ox"

    def fault(name: str, row: int, words: str, *effects: Effect) -> Fault:
        return Fault(f"master_ox_{name}", row, f"master oxidizer {words}", effects, needs=MASTER)

    yield fault("jammed_shut", 1, "valve jammed shut", Change(f"{path}.jam", JAMMED_SHUT))
    yield fault("jammed_open", 11, "valve stays open once opened", Change(f"{path}.jam", JAMMED_OPEN))
    yield fault("stuck_open", 11, "valve stuck fully open, commanded or not", Change(f"{path}.leak", 1.0))
    yield fault("leaks", 11, "valve leaks", Change(f"{path}.leak", 0.1))
    yield fault("slow_to_open", 1, "valve takes 300 ms to open", Change(f"{path}.open_stroke_s", 0.300))
    yield fault("slow_to_close", 12, "valve takes 500 ms to close", Change(f"{path}.close_stroke_s", 0.500))
    yield fault("coil_open", 47, "coil or its lead open", Change(f"{path}.coil_open", True))
    yield fault("coil_shorted", 47, "coil has shorted turns", Change(f"{path}.shorted_turns", True))
    yield fault("driver_open", 47, "driver does not switch on", Change(f"{path}.driver_open", True))
    yield fault("driver_shorted", 48, "driver stays on", Change(f"{path}.driver_shorted", True))
    yield fault("wire_chafed", 48, "lead chafed to the bus: coil energised", Change(f"{path}.stray_v", 13.5))
    yield fault("clamp_failed", 3, "coil clamp open: fast release", Change(f"{path}.clamp_v", 60.0))
    yield fault("sense_stuck_on", 2, "current sense stuck on", Change("board.currents_stuck_on", COIL_MASTER_OX))
    yield fault("sense_stuck_off", 2, "current sense stuck off", Change("board.currents_stuck_off", COIL_MASTER_OX))


def _overheat(bench: "Bench", _stage: int) -> None:
    """A bottle in the sun, its skin hotter than its contents."""
    bench.plant.bottle.wall_k = 335.15


def _speed_up(bench: "Bench", _stage: int) -> None:
    bench.plant.extras.airspeed_m_s = 55.0


def _descend(bench: "Bench", _stage: int) -> None:
    """Down to sea level: the air is denser than the pattern was chosen for."""
    bench.plant.extras.air_pa = 101_325.0


def _use_up(bench: "Bench", _stage: int) -> None:
    """What the store remembers of the bottle is nearly nothing."""
    bench.board.bottle_g = bench.board.bottle_found_g = 20
    core = bench.controller.core
    core.budget = min(core.budget, 20 << 10)


def _surroundings() -> Iterator[Fault]:
    """What the inputs beyond the core are there to see."""
    yield Fault(
        "engine_knocks", 52, "engine detonates", (Change("plant.extras.knocking", True),), needs="knock"
    )
    yield Fault("fire_breaks_out", 59, "engine fire", (Change("plant.extras.fire", True),), needs="fire")
    yield Fault(
        "mixture_leaned", 62, "mixture leaned", (Change("plant.extras.mixture_rich", False),), needs="mixture rich"
    )
    yield Fault(
        "retard_lost", 52, "ignition loses its retard", (Change("plant.extras.retard", False),), needs="ignition retard"
    )
    yield Fault(
        "outlet_2_blocked",
        33,
        "second purge outlet blocked",
        (Change("plant.extras.second_outlet_dead", True),),
        needs="purge outlet 2",
    )
    yield Fault(
        "bottle_skin_hot", 18, "bottle skin at 62 C", (Action("hot", _overheat),), needs="bottle temperature"
    )
    yield Fault("airspeed_high", 54, "airspeed above its limit", (Action("fast", _speed_up),), needs="airspeed")
    yield Fault("air_denser", 39, "descent into dense air", (Action("down", _descend),), needs="air data")
    used = (Action("used", _use_up),)
    yield Fault("bottle_count_low", 57, "bottle used up by the count", used, needs="bottle budget")


def extra_faults() -> Iterator[Fault]:
    """All of them. Each names the input it belongs to in `needs`."""
    yield from _master_oxidizer()
    yield from _slow(
        "bottle_temperature", "plant.extras.bottle", "bottle temperature sensor", 18, "bottle temperature", 100.0
    )
    yield from _slow("air_temperature", "plant.extras.air", "outside air sensor", 40, "air data", 100.0)
    yield from _slow("barometer", "plant.extras.baro", "barometer", 40, "air data", 200.0)
    yield from _slow("outlet_1", "plant.extras.outlet_1", "first purge outlet sensor", 33, "purge outlet 1", 200.0)
    yield from _slow("outlet_2", "plant.extras.outlet_2", "second purge outlet sensor", 33, "purge outlet 2", 200.0)
    yield from _airspeed()
    yield from _contact("knock_input", EX_KNOCK, "knock input", 52, "knock")
    yield from _contact("mixture_contact", EX_MIXTURE_RICH, "rich mixture contact", 62, "mixture rich")
    yield from _contact("retard_contact", EX_RETARD, "retard contact", 52, "ignition retard")
    yield from _contact("fire_input", EX_FIRE, "fire input", 59, "fire")
    yield from _surroundings()
