"""Hypothesis drives switches, sensors and faults, holding each for n ticks around the timers' boundaries.

Every monitor watches every tick. Visits per state and per transition are counted over all examples, printed,
and a state or a legal transition that was never visited fails the test, as does one that is not legal.
"""

from collections import Counter
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st
from tests.property.goals import GOALS
from tests.property.world import SHORT_TIMES, World, settings_with

from oxlatch import vocabulary as v
from oxlatch.settings import FIELDS, Settings

SHORT = settings_with(**SHORT_TIMES, fitted=v.FIT_ALL)
LONGEST_HOLD = 120

LEGAL = {
    "WAKE": {"REST", "HELD", "TRIP"},
    "HELD": {"REST", "TRIP", "SERVICE"},
    "REST": {"WAITING", "TRIP", "SERVICE", "BENCH-GAS", "BENCH-DRY"},
    "WAITING": {"PURGING", "READY", "REST", "TRIP"},
    "PURGING": {"WAITING", "REST", "TRIP"},
    "READY": {"WAITING", "LEAD-IN", "REST", "TRIP"},
    "LEAD-IN": {"RUN", "RUN-DOWN", "TRIP"},
    "RUN": {"RUN-DOWN", "TRIP"},
    "RUN-DOWN": {"GAP", "REST", "TRIP"},
    "GAP": {"WAITING", "REST", "TRIP"},
    "TRIP": {"HELD", "REST", "GAP", "SERVICE"},
    "SERVICE": {"WAKE"},
    "BENCH-GAS": {"REST", "TRIP"},
    "BENCH-DRY": {"REST", "TRIP"},
}
"""The transitions the behaviour allows between one tick and the next; a reset is none.

From GAP to READY the way leads through WAITING, and from SERVICE to anywhere through WAKE.
"""

DEEP = ("READY", "LEAD-IN", "RUN", "RUN", "RUN-DOWN", "GAP", "PURGING", "short TRIP")
"""States made for more often than the rest."""

SENSORS = {
    "throttle_mv": ("throttle_", "sensor_"),
    "supply_mv": ("supply_", "line_", "sensor_"),
    "fuel_mv": ("fuel_", "sensor_"),
    "block_mv": ("block_", "sensor_"),
    "bus_mv": ("bus_",),
    "rpm": ("rpm_cut", "rpm_min", "rpm_max"),
    "pulse_age_ms": ("pulse_age_ms",),
    "bottle_dk": ("bottle_",),
    "outlet_1_dk": ("outlet_",),
    "outlet_2_dk": ("outlet_",),
    "airspeed_mv": ("airspeed_", "sensor_"),
}
SWITCHES = [v.SW_MASTER, v.SW_PURGE, v.SW_ACK, *(1 << v.SW_SEL_SHIFT + i for i in range(v.STAGES_MAX))]
POLES_AND_STRAPS = [v.SW_DETENT_NO, v.SW_DETENT_NC, v.SW_BENCH, v.SW_INJECT]
COILS = [1, 2, 3, 1 << v.COIL_FUEL_SHIFT, 2 << v.COIL_FUEL_SHIFT, v.COIL_PURGE, v.COIL_MASTER_FUEL, v.COIL_MASTER_OX]
BOOT_WORDS = [
    0,
    0,
    0,
    v.BOOT_CRC_BAD,
    v.BOOT_VERSION_BAD,
    v.BOOT_BOUNDS_BAD,
    v.BOOT_LOST_ARMED,
    v.BOOT_LOCKED_L4,
]


def boundaries(c: Settings, prefixes: tuple[str, ...]) -> list[int]:
    """Each threshold of a sensor, one below and one above; and nothing at all."""
    found = {0}
    for name, unit, *_rest in FIELDS:
        if unit in ("mV", "rpm", "ms", "0.1 K") and name.startswith(prefixes):
            found |= {getattr(c, name) + by for by in (-1, 0, 1)}
    return sorted(found)


def holds(c: Settings) -> list[int]:
    """Ticks around every timer of the settings, up to the longest worth holding in one step."""
    timers = {getattr(c, name) for name, unit, *_rest in FIELDS if unit == "ticks"}
    around = {timer + by for timer in timers for by in (-1, 0, 1)} | {1, 2, 5, 6, 7}
    return sorted(n for n in around if 0 < n <= LONGEST_HOLD)


def actions(c: Settings) -> st.SearchStrategy[tuple[Any, ...]]:
    """One thing that a crew, a sensor or a fault can do."""
    on = st.booleans()
    sensors = [
        st.tuples(st.just("set"), st.just(name), st.sampled_from(boundaries(c, prefixes)))
        for name, prefixes in SENSORS.items()
    ]
    coil_faults = st.tuples(
        st.just("set"), st.sampled_from(["absent", "stray", "short"]), st.sampled_from(COILS)
    )
    proof_faults = st.tuples(
        st.just("set"), st.sampled_from(["proof_dead", "proof_stuck"]), st.integers(1, 3)
    )
    extras = st.tuples(st.just("set"), st.just("extras"), st.integers(0, 15))
    air = st.tuples(st.just("set"), st.just("baro_dapa"), st.sampled_from([0, 5000, 8000, 10133]))
    bottle = st.tuples(st.just("set"), st.just("bottle_g"), st.sampled_from([0, 60, 400]))
    rail_faults = st.tuples(st.just("set"), st.sampled_from(["rail_dead", "rail_welded"]), st.just(True))
    return st.one_of(
        st.tuples(st.just("press"), st.sampled_from(SWITCHES), on),
        st.tuples(st.just("detent"), on),
        st.tuples(st.just("press"), st.sampled_from(POLES_AND_STRAPS), on),
        st.one_of(sensors),
        st.one_of(coil_faults, proof_faults, rail_faults),
        st.one_of(extras, air, bottle),
        st.tuples(st.just("late"), st.integers(2, 5), st.integers(1, 3)),
        st.tuples(st.just("set"), st.just("service"), st.integers(0, 1)),
        st.tuples(st.just("reset"), st.sampled_from(BOOT_WORDS)),
        st.tuples(st.just("healthy")),
    )


def steps(c: Settings) -> st.SearchStrategy[list[tuple[str, list[Any]]]]:
    """Legs of a sortie: a state to make for, then a few actions, each held for some ticks."""
    held = st.tuples(actions(c), st.sampled_from(holds(c)))
    leg = st.tuples(st.sampled_from([*GOALS, *DEEP]), st.lists(held, min_size=1, max_size=5))
    return st.lists(leg, min_size=1, max_size=3)


def act(w: World, action: tuple[Any, ...], hold: int) -> None:
    """Do one action and hold it."""
    kind, *rest = action
    if kind == "press":
        w.press(*rest)
    elif kind == "detent":
        w.detent(*rest)
    elif kind == "set":
        setattr(w, *rest)
    elif kind == "healthy":
        w.healthy()
    elif kind == "reset":
        w.reset(*rest)
    elif kind == "late":
        w.elapsed, times = rest
        w.run(times)
        w.elapsed = 1
    w.run(hold)


def play(w: World, legs: list[tuple[str, list[Any]]]) -> None:
    """Fly the legs one after the other."""
    for goal, held in legs:
        GOALS[goal](w)
        note(f"made for {goal}, in {w.state} at tick {w.n}")
        for action, hold in held:
            act(w, action, hold)


def table(visits: Counter[str], moves: Counter[tuple[str, str]]) -> str:
    """Visits per state and per transition, in words."""
    lines = [f"{sum(visits.values())} ticks"]
    for state in v.STATE_NAMES:
        onward = ", ".join(f"{to} {moves[state, to]}" for to in sorted(LEGAL[state]))
        lines.append(f"  {state:9} {visits[state]:7}   to {onward}")
    return "\n".join(lines)


def require_all_visited(visits: Counter[str], moves: Counter[tuple[str, str]]) -> None:
    """Every state and every legal transition was visited, and no other transition happened."""
    print("\n" + table(visits, moves))
    legal = {(state, to) for state, onward in LEGAL.items() for to in onward}
    assert not set(moves) - legal, f"not legal: {sorted(set(moves) - legal)}"
    assert not legal - set(moves), f"never visited: {sorted(legal - set(moves))}"
    assert all(visits[state] for state in v.STATE_NAMES)


def test_all_monitors_hold_in_every_state_and_transition() -> None:
    visits: Counter[str] = Counter()
    moves: Counter[tuple[str, str]] = Counter()

    @settings(
        max_examples=700,
        derandomize=True,
        deadline=None,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(steps(SHORT))
    def drive(legs: list[tuple[str, list[Any]]]) -> None:
        play(World(SHORT, visits, moves), legs)

    drive()
    require_all_visited(visits, moves)


VARIANTS = {
    "no second pole": {"fitted": v.FIT_DETENT_NC},
    "no throttle position": {"fitted": v.FIT_THROTTLE},
    "no proofs": {"fitted": v.FIT_PROOF},
    "no master fuel valve": {"fitted": v.FIT_MASTER_FUEL},
    "no coil currents": {"fitted": v.FIT_CURRENTS},
    "no rail volts": {"fitted": v.FIT_RAIL},
    "no fuel pressure": {"fitted": v.FIT_FUEL_PRESSURE},
    "slow lockout memory": {"fitted": v.FIT_LOCKOUT_MEMORY},
    "no extras": {"fitted": v.FIT_ALL & ~0xFFFF},
    "no altitude table": {"fitted": v.FIT_AIR},
    "no master oxidizer valve": {"fitted": v.FIT_MASTER_OX},
    "no bottle budget": {"fitted": v.FIT_BUDGET},
    "nothing optional": {"fitted": v.FIT_ALL & ~v.FIT_ALWAYS & ~v.FIT_DETENT_NC},
    "one stage": {"stages": 1, "patterns": 2, **{f"patterns_{row}": 2 for row in range(1, v.ROWS)}},
    "four stages": {"stages": 4, "patterns": 0xFFFE},
    "shortest lead, no tail": {"lead_ticks": 1, "tail_ticks": 0, "run_off_ticks": 1},
    "longest lead": {"lead_ticks": 15, "lead_limit_ticks": 16},
    "some patterns": {"patterns": 0b1000_0110},
}
"""Settings that differ; "fitted" names what is left out."""


@pytest.mark.parametrize("variant", VARIANTS)
def test_all_monitors_hold_whatever_is_fitted_and_set(variant: str) -> None:
    changes = dict(VARIANTS[variant])
    changes["fitted"] = v.FIT_ALL & ~changes.get("fitted", 0)
    varied = settings_with(**{**SHORT_TIMES, **changes})
    visits: Counter[str] = Counter()

    @settings(
        max_examples=40,
        derandomize=True,
        deadline=None,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(steps(varied))
    def drive(legs: list[tuple[str, list[Any]]]) -> None:
        play(World(varied, visits, Counter()), legs)

    drive()
    missed = [state for state in ("READY", "LEAD-IN", "RUN", "RUN-DOWN", "TRIP") if not visits[state]]
    assert not missed


SWITCH_LOSSES = [
    ("press", bit, held)
    for bit in (*SWITCHES, v.SW_DETENT_NO, v.SW_DETENT_NC, 15 << v.SW_PROOF_SHIFT)
    for held in (True, False)
]
SENSOR_LOSSES = [("set", name, value) for name in SENSORS for value in (0, 5000)]
WIRING_LOSSES = [
    ("set", "absent", v.COIL_OX | v.COIL_FUEL),
    ("set", "stray", 1),
    ("set", "short", 1),
    ("set", "proof_stuck", 15),
    ("set", "proof_dead", 15),
    ("set", "rail_welded", True),
    ("set", "rail_dead", True),
    ("set", "elapsed", 0),
]


@pytest.mark.parametrize("loss", SWITCH_LOSSES + SENSOR_LOSSES + WIRING_LOSSES, ids=str)
def test_with_the_contact_open_no_single_lost_input_opens_a_valve(loss: tuple[Any, ...]) -> None:
    """I11 itself: one input is held at its lost value from READY on, whatever the crew then does with the rest."""
    visits: Counter[str] = Counter()
    crew = st.tuples(st.just("press"), st.sampled_from(SWITCHES), st.booleans())
    throttle = st.tuples(
        st.just("set"), st.just("throttle_mv"), st.sampled_from([1000, SHORT.throttle_full_mv])
    )
    ticks = st.sampled_from(holds(SHORT))

    @settings(max_examples=12, derandomize=True, deadline=None, database=None)
    @given(st.lists(st.tuples(st.one_of(crew, throttle), ticks), min_size=1, max_size=5))
    def drive(held: list[Any]) -> None:
        w = World(SHORT, visits, Counter())
        GOALS["READY"](w)
        assert w.state == "READY"
        for action, hold in [(loss, 30), *held]:
            act(w, action, 0)
            act(w, loss, hold)
            assert w.opened == 0

    drive()
    assert visits["READY"]


def at_defaults(w: World, release_after: int, hold: int) -> None:
    """One sortie at the default timers: arm, purge, push, release after some ticks, hold."""
    GOALS["READY"](w)
    assert w.state == "READY", w.state
    act(w, ("set", "throttle_mv", w.settings.throttle_full_mv), w.settings.throttle_full_ticks)
    act(w, ("detent", True), release_after)
    act(w, ("detent", False), hold)


DEFAULTS = Settings()
RELEASES = sorted(
    {
        n + by
        for n in (6, 6 + DEFAULTS.lead_ticks, 6 + DEFAULTS.stagger_ticks, DEFAULTS.long_run_ticks)
        for by in (-1, 0, 1, 2, 12)
    }
)


@pytest.mark.parametrize("release_after", RELEASES)
def test_all_monitors_hold_at_the_default_timers(release_after: int) -> None:
    visits: Counter[str] = Counter()
    moves: Counter[tuple[str, str]] = Counter()
    w = World(DEFAULTS, visits, moves)
    at_defaults(w, release_after, DEFAULTS.gap_ticks + DEFAULTS.run_off_ticks + 20)
    assert moves["READY", "LEAD-IN"] == (1 if release_after >= 6 else 0)
    assert w.state in ("READY", "WAITING")
