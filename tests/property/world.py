"""A controller in a loop of wires only: coils, proofs and rail follow what is driven; all else is set by hand."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

from oxlatch import vocabulary as v
from oxlatch.controller import Controller
from oxlatch.settings import Settings, rules_hold
from oxlatch_sim.monitor import Watch
from oxlatch_sim.observation import observe

LOCKED_BITS = {0: 0, 1: 0, 3: v.BOOT_LOCKED_L3, 4: v.BOOT_LOCKED_L4}
"""What start-up finds for each word in a lockout memory that can be written within a tick."""
ARMED = 1
PROOF_TICKS = 3
MILD_DK = 2952  # 22 degC, where the default bottle pressures belong
RAIL_FALL_TICKS = 3

SHORT_TIMES = {
    "wake_ticks": 3,
    "master_off_ticks": 8,
    "contact_open_ticks": 3,
    "push_judge_ticks": 12,
    "release_ticks": 9,
    "disarm_ticks": 10,
    "ack_hold_ticks": 12,
    "arm_ticks": 900,
    "arm_warn_ticks": 800,
    "selection_ticks": 5,
    "ready_ticks": 5,
    "stagger_ticks": 6,
    "gap_ticks": 8,
    "run_ticks": 60,
    "run_warn_ticks": 50,
    "hold_off_ticks": 40,
    "start_cost_ticks": 10,
    "start_limit_ticks": 60,
    "purge_press_ticks": 2,
    "purge_ticks": 12,
    "purge_max_ticks": 30,
    "purge_good_ticks": 5,
    "purge_confirm_ticks": 60,
    "purge_valid_ticks": 500,
    "purge_after_run_ticks": 200,
    "long_run_ticks": 20,
    "purge_void_ticks": 10,
    "purge_stuck_ticks": 40,
    "rpm_window_ticks": 8,
    "rpm_stopped_ticks": 12,
    "supply_leave_ticks": 8,
    "supply_permit_ticks": 10,
    "supply_blank_ticks": 5,
    "fuel_leave_ticks": 8,
    "fuel_permit_ticks": 10,
    "fuel_high_ticks": 6,
    "leak_watch_ticks": 20,
    "bus_leave_ticks": 8,
    "throttle_full_ticks": 4,
    "vent_ticks": 60,
    "bench_ticks": 90,
    "bench_push_ticks": 30,
    "coil_heat_up": 10,
    "coil_heat_start": 500,
    "coil_heat_top": 900,
    "bottle_full_g": 500,
    "match_turns": 6,
    "row_turns": 2,
    "outlet_turns": 2,
}
"""Timers shortened, within bounds and rules, so that one example reaches the deep states many times."""


def settings_with(**changes: int) -> Settings:
    """Settings with some fields changed; they must still be settings a controller would accept."""
    settings = Settings()
    for name, value in changes.items():
        setattr(settings, name, value)
    if not rules_hold(settings):
        raise ValueError(f"cross-field rules do not hold with {changes}")
    return settings


UNLATCHED = ("REST", "WAITING", "PURGING", "READY", "LEAD-IN", "RUN", "GAP", "BENCH-GAS", "BENCH-DRY")
"""States that no latch may stand in: every latched cause ends in RUN-DOWN or TRIP."""


class Broken(AssertionError):
    """A monitor failed or a latch was passed over; the message says which and where."""


class World:
    """Switches and sensors to set, faults to wire in, ticks to run."""

    def __init__(self, settings: Settings, visits: Counter[str], moves: Counter[tuple[str, str]]) -> None:
        self.settings = settings
        self.visits = visits
        self.moves = moves
        self.watch = Watch(settings)
        self.stored = 0
        self.n = 0
        self.boot_word = 0
        self.switches = v.SW_DETENT_NC
        self.raw = [0] * v.RAW_COUNT
        self.healthy()
        self.reset()

    def healthy(self) -> None:
        """Every sensor at a value that permits a start; no wiring fault."""
        c = self.settings
        self.throttle_mv = c.throttle_full_mv
        self.rpm = (c.rpm_min + c.rpm_max) // 2
        self.pulse_age_ms = 10
        self.supply_mv = (c.supply_permit_mv + c.supply_top_mv) // 2
        self.fuel_mv = (c.fuel_low_mv + c.fuel_top_mv) // 2
        self.block_mv = self.fuel_mv
        self.bus_mv = c.bus_permit_mv + 500
        self.elapsed = 1
        self.service = 0
        self.absent = self.stray = self.short = 0
        self.proof_dead = self.proof_stuck = 0
        self.rail_dead = self.rail_welded = False
        self.extras = v.EX_MIXTURE_RICH | v.EX_RETARD
        self.bottle_dk, self.air_dk, self.baro_dapa = MILD_DK, MILD_DK, 10133
        self.outlet_1_dk = self.outlet_2_dk = MILD_DK
        self.airspeed_mv = c.airspeed_top_mv - 500
        self.bottle_g = 400

    def reset(self, boot_word: int = 0) -> None:
        """Power-up: a new controller that reads the lockout memory; no coil on, no proof up."""
        self.controller = Controller(self.settings)
        self.boot_word = boot_word | LOCKED_BITS[self.stored]
        if self.stored == ARMED and not self.settings.fitted & v.FIT_LOCKOUT_MEMORY:
            self.boot_word |= v.BOOT_LOST_ARMED
        self.just_booted = True
        self.coils = [0, 0]
        self.flow_n = [0] * v.STAGES_MAX
        self.rail_n = RAIL_FALL_TICKS
        self.opened = 0
        self.state = "off"

    def maintain(self) -> None:
        """Maintenance clears the lockout memory; the recording before it ends there."""
        self.stored = 0
        self.watch = Watch(self.settings)
        self.reset()

    def press(self, bits: int, on: bool) -> None:
        """Set or clear switch bits."""
        self.switches = self.switches | bits if on else self.switches & ~bits

    def detent(self, closed: bool) -> None:
        """Move both poles of the throttle contact."""
        self.press(v.SW_DETENT_NO, closed)
        self.press(v.SW_DETENT_NC, not closed)

    def run(self, ticks: int) -> None:
        """Run some ticks."""
        for _ in range(ticks):
            self.step()

    def run_until(self, states: Iterable[str], limit: int) -> bool:
        """Run until one of the states is reached; whether it was, within the limit."""
        for _ in range(limit):
            if self.state in states:
                return True
            self.step()
        return self.state in states

    def step(self) -> None:
        """One tick: wires, controller, count, monitors."""
        self._wires()
        self.controller.tick(self.raw)
        seen = observe(self.n, self.controller, self.raw, {})
        if self.just_booted:
            seen["boot"] = self.boot_word
            self.just_booted = False
        state = seen["state"]
        self.visits[state] += 1
        if self.state not in (state, "off"):
            self.moves[self.state, state] += 1
        self.state = state
        if seen["latch"] and state in UNLATCHED:
            raise Broken(f"latch {seen['latch']} stands in {state} at tick {self.n}: {seen['why']}")
        self.stored = self.controller.core.store
        self.watch.step(seen)
        if self.watch.broken:
            raise Broken(f"{self.watch.broken} at tick {self.n}, state {state}: {seen}")
        self._after(seen["out"])
        self.n += 1

    def _wires(self) -> None:
        raw = self.raw
        proof = self.proof_stuck
        for i in range(v.STAGES_MAX):
            proof |= (self.flow_n[i] >= PROOF_TICKS) << i
        live = self.rail_welded or (self.rail_n < RAIL_FALL_TICKS and not self.rail_dead)
        raw[v.RAW_ELAPSED] = self.elapsed
        raw[v.RAW_SWITCHES] = self.switches | (proof & ~self.proof_dead) << v.SW_PROOF_SHIFT
        raw[v.RAW_CURRENTS] = self.coils[0] & ~self.absent | self.stray
        raw[v.RAW_SHORTS] = self.short
        raw[v.RAW_THROTTLE_MV] = self.throttle_mv
        raw[v.RAW_RPM] = self.rpm
        raw[v.RAW_PULSE_AGE_MS] = self.pulse_age_ms
        raw[v.RAW_SUPPLY_MV] = self.supply_mv
        raw[v.RAW_FUEL_MV] = self.fuel_mv
        raw[v.RAW_BLOCK_MV] = self.block_mv
        raw[v.RAW_BUS_MV] = self.bus_mv
        raw[v.RAW_RAIL_MV] = self.bus_mv if live else 0
        raw[v.RAW_BOOT] = self.boot_word
        raw[v.RAW_SERVICE] = self.service
        raw[v.RAW_EXTRAS] = self.extras
        raw[v.RAW_BOTTLE_DK] = self.bottle_dk
        raw[v.RAW_BARO_DAPA] = self.baro_dapa
        raw[v.RAW_AIR_DK] = self.air_dk
        raw[v.RAW_OUTLET_1_DK] = self.outlet_1_dk
        raw[v.RAW_OUTLET_2_DK] = self.outlet_2_dk
        raw[v.RAW_AIRSPEED_MV] = self.airspeed_mv
        raw[v.RAW_BOTTLE_G] = self.bottle_g

    def _after(self, out: dict[str, Any]) -> None:
        """Let coils, flow and rail follow what was driven."""
        self.opened |= out["ox"] | out["fuel"]
        coils = out["ox"] << v.COIL_OX_SHIFT | out["fuel"] << v.COIL_FUEL_SHIFT
        coils |= v.COIL_PURGE if out["purge"] else 0
        coils |= v.COIL_MASTER_FUEL if out["master_fuel"] else 0
        coils |= v.COIL_MASTER_OX if self.controller.out.bits & v.OUT_MASTER_OX else 0
        self.coils = [self.coils[1], coils]
        for i in range(v.STAGES_MAX):
            self.flow_n[i] = (
                min(self.flow_n[i] + 1, PROOF_TICKS) if out["ox"] >> i & 1 else max(self.flow_n[i] - 1, 0)
            )
        self.rail_n = 0 if out["run"] else min(self.rail_n + 1, RAIL_FALL_TICKS)
