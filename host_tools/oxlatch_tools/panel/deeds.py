"""What a person can do to the virtual bench: each deed read from a message, checked, and done at a tick.

A deed that has been read is plain data, so that the same deeds at the same ticks give the same flight again.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from oxlatch.vocabulary import SW_SEL_SHIFT
from oxlatch_sim.bench import Bench
from oxlatch_sim.fault_kinds import Action
from oxlatch_sim.faults import FaultError, parse_name
from oxlatch_sim.physics.atmosphere import standard_density_ratio, standard_pressure_pa
from oxlatch_sim.physics.engine import gagg_farrar_lapse
from oxlatch_tools.panel.messages import Message, MessageError, flag, number, one_of, only, whole

ZERO_C_K = 273.15
BOTTLE_C = (-20.0, 35.0)
"""The hottest is just under the critical point, where the property tables of the feed line end."""
FILL_SHARE = (0.05, 1.15)
"""Of the charge in the installation file; the top is an overfilled bottle that the property tables still reach."""
BUS_SHARE = (0.0, 1.4)
"""Of the bus voltage in flight."""
ALTITUDE_M = (0.0, 6000.0)
AIRSPEED_M_S = (0.0, 100.0)
SWITCHES = ("master", "purge", "ack", "bench")
CONTACTS = {
    "mixture rich": ("mixture_rich", "Mixture", "full rich", "leaned"),
    "ignition retard": ("retard", "Retard", "confirmed", "not confirmed"),
    "knock": ("knocking", "Knock", "heard", "none"),
    "fire": ("fire", "Fire", "seen", "none"),
}
"""Contacts beyond the core: the plant's attribute, a name, and words for on and off."""
SERVICE_LEVELS = 2


@dataclass(frozen=True)
class Deed:
    """One thing done: its name, and arguments that were checked."""

    name: str
    args: tuple[Any, ...]


@dataclass
class Setup:
    """What the deeds have set up that the bench itself does not tell."""

    faults: tuple[str, ...] = ()
    done_once: dict[str, int] = field(default_factory=dict)
    altitude_m: float = 0.0

    def copied(self) -> "Setup":
        """As it is now."""
        return Setup(self.faults, dict(self.done_once), self.altitude_m)


@dataclass(frozen=True)
class Limits:
    """How far the numbers of one aircraft may be turned."""

    stages: int
    fill_kg: tuple[float, float]
    bus_v: tuple[float, float]
    extras: frozenset[str]


def limits_of(bench: Bench) -> Limits:
    """The limits for a bench as it was built."""
    fill_kg = bench.plant.parameters.bottle.fill_kg
    set_v = bench.plant.parameters.electrical.set_v
    low, high = (share * fill_kg for share in FILL_SHARE)
    bus_v = (BUS_SHARE[0] * set_v, BUS_SHARE[1] * set_v)
    return Limits(bench.settings.stages, (low, high), bus_v, bench.plant.extras.fitted)


def read_deed(message: Message, limits: Limits) -> Deed | None:
    """The deed of a message; none when the message is about something else. Errors: `MessageError`."""
    reader = READERS.get(message["do"])
    if reader is None:
        return None
    return Deed(message["do"], reader(message, limits))


def perform(deed: Deed, bench: Bench, setup: Setup) -> None:
    """Do it. Errors: ValueError when the model cannot follow."""
    PERFORMERS[deed.name](bench, setup, *deed.args)


def is_once(name: str, stages: int) -> bool:
    """Whether a fault is something that happens and has no way back."""
    fault, _stage = parse_name(name, stages)
    return all(isinstance(effect, Action) for effect in fault.effects)


def _read_switch(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message, "name", "on")
    return one_of(message, "name", SWITCHES), flag(message, "on")


def _read_select(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "stage", "on")
    return whole(message, "stage", 1, limits.stages), flag(message, "on")


def _read_throttle(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message, "percent")
    return (number(message, "percent", 0.0, 100.0),)


def _read_on(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message, "on")
    return (flag(message, "on"),)


def _read_fault(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "name", "on")
    name = message["name"]
    if not isinstance(name, str):
        raise MessageError("name must be a text")
    try:
        parse_name(name, limits.stages)
    except FaultError as error:
        raise MessageError(str(error)) from error
    return name, flag(message, "on")


def _read_bottle(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "temperature_c", "fill_kg")
    return number(message, "temperature_c", *BOTTLE_C), number(message, "fill_kg", *limits.fill_kg)


def _read_volts(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "bus_v")
    return (number(message, "bus_v", *limits.bus_v),)


def _read_altitude(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message, "altitude_m")
    return (number(message, "altitude_m", *ALTITUDE_M),)


def _read_airspeed(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "airspeed_m_s")
    if "airspeed" not in limits.extras:
        raise MessageError("no airspeed sensor is fitted")
    return (number(message, "airspeed_m_s", *AIRSPEED_M_S),)


def _read_contact(message: Message, limits: Limits) -> tuple[Any, ...]:
    only(message, "name", "on")
    fitted = tuple(name for name in CONTACTS if name in limits.extras)
    return one_of(message, "name", fitted), flag(message, "on")


def _read_service(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message, "level")
    return (whole(message, "level", 0, SERVICE_LEVELS),)


def _switch(bench: Bench, _setup: Setup, name: str, on: bool) -> None:
    bench.set_switch(name, on)


def _select(bench: Bench, _setup: Setup, stage: int, on: bool) -> None:
    bit = 1 << (SW_SEL_SHIFT + stage - 1)
    bench.board.panel = bench.board.panel | bit if on else bench.board.panel & ~bit


def _throttle(bench: Bench, _setup: Setup, percent: float) -> None:
    bench.set_throttle(percent)


def _push(bench: Bench, _setup: Setup, on: bool) -> None:
    bench.push() if on else bench.release()


def _engine(bench: Bench, _setup: Setup, on: bool) -> None:
    engine = bench.plant.engine
    if on and not engine.running:
        engine.start(max(engine.rpm, engine.parameters.idle_rpm))
    elif not on:
        engine.running = False


def _hand_valve(bench: Bench, _setup: Setup, on: bool) -> None:
    if on:
        bench.plant.line.open_hand_valve()
    else:
        bench.plant.line.shut_hand_valve()
    bench.plant.wake()


def _fault(bench: Bench, setup: Setup, name: str, on: bool) -> None:
    bench.inject(name, on)
    if is_once(name, bench.settings.stages):
        if on:
            setup.done_once[name] = setup.done_once.get(name, 0) + 1
    elif on and name not in setup.faults:
        setup.faults = (*setup.faults, name)
    elif not on:
        setup.faults = tuple(fault for fault in setup.faults if fault != name)


def _heal(bench: Bench, setup: Setup) -> None:
    for name in setup.faults:
        bench.inject(name, False)
    setup.faults = ()


def _bottle(bench: Bench, _setup: Setup, temperature_c: float, fill_kg: float) -> None:
    bench.plant.bottle.refill(fill_kg, temperature_c + ZERO_C_K)
    bench.plant.wake()


def _volts(bench: Bench, _setup: Setup, bus_v: float) -> None:
    bench.plant.electrical.set_v = bus_v
    bench.plant.wake()


def _altitude(bench: Bench, setup: Setup, altitude_m: float) -> None:
    """Standard pressure and the engine power that goes with it; air temperature stays as it is."""
    setup.altitude_m = altitude_m
    bench.plant.line.ambient_pa = bench.plant.extras.air_pa = standard_pressure_pa(altitude_m)
    bench.plant.engine.lapse = gagg_farrar_lapse(standard_density_ratio(altitude_m))
    bench.plant.wake()


def _airspeed(bench: Bench, _setup: Setup, airspeed_m_s: float) -> None:
    bench.plant.extras.airspeed_m_s = airspeed_m_s


def _contact(bench: Bench, _setup: Setup, name: str, on: bool) -> None:
    setattr(bench.plant.extras, CONTACTS[name][0], on)


def _service(bench: Bench, _setup: Setup, level: int) -> None:
    bench.board.service = level


def _read_nothing(message: Message, _limits: Limits) -> tuple[Any, ...]:
    only(message)
    return ()


READERS: dict[str, Callable[[Message, Limits], tuple[Any, ...]]] = {
    "switch": _read_switch,
    "select": _read_select,
    "throttle": _read_throttle,
    "push": _read_on,
    "engine": _read_on,
    "hand_valve": _read_on,
    "fault": _read_fault,
    "heal": _read_nothing,
    "bottle": _read_bottle,
    "volts": _read_volts,
    "altitude": _read_altitude,
    "airspeed": _read_airspeed,
    "contact": _read_contact,
    "service": _read_service,
}
PERFORMERS: dict[str, Callable[..., None]] = {
    "switch": _switch,
    "select": _select,
    "throttle": _throttle,
    "push": _push,
    "engine": _engine,
    "hand_valve": _hand_valve,
    "fault": _fault,
    "heal": _heal,
    "bottle": _bottle,
    "volts": _volts,
    "altitude": _altitude,
    "airspeed": _airspeed,
    "contact": _contact,
    "service": _service,
}
