"""Ways to a state, each by the crew's own hands: a random walk alone hardly ever reaches flow."""

from collections.abc import Callable

from tests.property.world import World

from oxlatch import vocabulary as v

SELECTORS = 15 << v.SW_SEL_SHIFT
CREW = v.SW_MASTER | v.SW_PURGE | v.SW_ACK


def to_rest(w: World) -> None:
    """Everything healthy and released; L3 acknowledged, L4 maintained."""
    c = w.settings
    w.healthy()
    w.press(CREW | v.SW_BENCH | v.SW_INJECT, False)
    w.detent(False)
    w.throttle_mv = c.throttle_half_mv - 1
    w.run(c.wake_ticks + 6)
    if w.controller.core.latch == 4:
        w.maintain()
    if w.run_until(["REST"], c.disarm_ticks + c.master_off_ticks + c.hold_off_ticks + 20):
        return
    w.rpm, w.pulse_age_ms = 0, c.pulse_age_ms
    w.press(v.SW_ACK, True)
    if not w.run_until(["REST"], c.rpm_stopped_ticks + c.ack_hold_ticks + c.leak_watch_ticks + 50):
        w.maintain()
        w.run(c.wake_ticks + 12)
    w.press(v.SW_ACK, False)
    w.healthy()
    w.run(6)


def to_waiting(w: World) -> None:
    """Armed, the first two stages selected where that is allowed."""
    to_rest(w)
    w.press(SELECTORS, False)
    allowed = [pattern for pattern in (3, 2, 1) if w.settings.patterns >> pattern & 1]
    w.press(allowed[0] << v.SW_SEL_SHIFT, True)
    w.press(v.SW_MASTER, True)
    w.run_until(["WAITING"], 20)


def to_purging(w: World) -> None:
    """The purge button held."""
    to_waiting(w)
    w.press(v.SW_PURGE, True)
    w.run_until(["PURGING"], 20)


def to_ready(w: World) -> None:
    """A full purge, acknowledged; every guard given its time."""
    c = w.settings
    to_purging(w)
    w.run(c.purge_ticks + 3)
    w.press(v.SW_PURGE, False)
    w.run(6)
    w.press(v.SW_ACK, True)
    w.run(8)
    w.press(v.SW_ACK, False)
    w.run_until(["READY"], c.supply_permit_ticks + c.ready_ticks + c.hold_off_ticks + 40)


def push(w: World) -> None:
    """Full throttle through the detent."""
    w.throttle_mv = w.settings.throttle_full_mv
    w.run(w.settings.throttle_full_ticks)
    w.detent(True)


def to_lead_in(w: World) -> None:
    """READY and a push."""
    to_ready(w)
    push(w)
    w.run_until(["LEAD-IN"], w.settings.push_judge_ticks + 8)


def to_run(w: World) -> None:
    """All selected stages open."""
    to_lead_in(w)
    w.run_until(["RUN"], 2 * w.settings.stagger_ticks + 4 * w.settings.lead_limit_ticks)


def to_run_down(w: World) -> None:
    """RUN and the throttle pulled."""
    to_run(w)
    w.detent(False)
    w.run_until(["RUN-DOWN"], 4)


def to_gap(w: World) -> None:
    """The pause after a flow."""
    to_run_down(w)
    w.run_until(["GAP"], w.settings.run_off_ticks + 20)


def to_held(w: World) -> None:
    """Power came up with the master on."""
    w.press(v.SW_MASTER, True)
    w.reset()
    w.run_until(["HELD"], w.settings.wake_ticks + 10)


def to_held_stopped(w: World) -> None:
    """Power came up with the purge button held and the engine stopped; the host tool asks."""
    to_rest(w)
    w.press(v.SW_PURGE, True)
    w.rpm, w.pulse_age_ms = 0, w.settings.pulse_age_ms
    w.reset()
    w.run(w.settings.wake_ticks + w.settings.rpm_stopped_ticks + 8)
    w.service = 1


def to_trip(w: World) -> None:
    """Proof lost in flow."""
    to_run(w)
    w.proof_dead = 1
    w.run_until(["TRIP"], 10)
    w.proof_dead = 0


def to_trip_in_purge(w: World) -> None:
    """The purge coil shorted while the purge is on."""
    to_purging(w)
    w.run(5)
    w.short = v.COIL_PURGE
    w.run_until(["TRIP"], 6)
    w.short = 0


def to_short_trip(w: World) -> None:
    """Overspeed in flow: a trip that ends with the release."""
    to_run(w)
    w.rpm = w.settings.rpm_max + 1
    w.run_until(["TRIP"], w.settings.rpm_over_ticks + w.settings.run_off_ticks + 20)
    w.healthy()


def to_gap_after_trip(w: World) -> None:
    """That trip, and the throttle released."""
    to_short_trip(w)
    w.detent(False)
    w.run_until(["GAP"], w.settings.release_ticks + 20)


def to_blink_of_master(w: World) -> None:
    """The master off for a moment in flow, the throttle released, and everything tried again."""
    to_run(w)
    w.press(v.SW_MASTER, False)
    w.run(3)
    w.press(v.SW_MASTER, True)
    w.detent(False)
    w.run(w.settings.run_off_ticks + w.settings.gap_ticks + w.settings.ready_ticks + 20)
    push(w)
    w.run(20)


def to_held_after_trip(w: World) -> None:
    """Proof lost in flow and the master turned off, the throttle still through its detent."""
    to_trip(w)
    w.press(CREW, False)
    w.run_until(["HELD"], w.settings.disarm_ticks + 20)


def to_lockout(w: World) -> None:
    """A coil that carries current unasked, then the engine stopped as for maintenance."""
    to_run(w)
    w.stray = 8
    w.run_until(["TRIP"], 10)
    w.stray = 0
    w.press(CREW, False)
    w.detent(False)
    w.rpm, w.pulse_age_ms = 0, w.settings.pulse_age_ms
    w.run(w.settings.rpm_stopped_ticks + 2)


def to_service(w: World) -> None:
    """Engine stopped and the host tool asking."""
    to_rest(w)
    w.rpm, w.pulse_age_ms = 0, w.settings.pulse_age_ms
    w.run(w.settings.rpm_stopped_ticks + 2)
    w.service = 1
    w.run_until(["SERVICE"], 10)


def to_bench(w: World, chord: int, supply_mv: int) -> None:
    """Engine stopped, bench key in, the chord held while the master goes on; then a push."""
    to_rest(w)
    w.supply_mv = supply_mv
    w.rpm, w.pulse_age_ms = 0, w.settings.pulse_age_ms
    w.press(v.SW_BENCH | 3 << v.SW_SEL_SHIFT, True)
    w.run(w.settings.rpm_stopped_ticks + 2)
    w.press(chord, True)
    w.run(7)
    w.press(v.SW_MASTER, True)
    w.run(8)
    w.press(chord, False)
    w.run(w.settings.contact_open_ticks + 6)
    push(w)
    w.run(20)


def to_bench_gas(w: World) -> None:
    """ACK held."""
    to_bench(w, v.SW_ACK, w.settings.supply_permit_mv)


def to_bench_dry(w: World) -> None:
    """PURGE held, no pressure in the line."""
    to_bench(w, v.SW_PURGE, w.settings.line_empty_mv)


def to_venting(w: World) -> None:
    """On the ground, engine stopped, a little pressure left in the line, PURGE held."""
    to_waiting(w)
    w.rpm, w.pulse_age_ms = 0, w.settings.pulse_age_ms
    w.supply_mv = w.settings.line_weak_mv
    w.run(w.settings.rpm_stopped_ticks + 2)
    w.press(v.SW_PURGE, True)
    w.run(w.settings.purge_max_ticks + 10)


GOALS: dict[str, Callable[[World], None]] = {
    "REST": to_rest,
    "WAITING": to_waiting,
    "PURGING": to_purging,
    "READY": to_ready,
    "LEAD-IN": to_lead_in,
    "RUN": to_run,
    "RUN-DOWN": to_run_down,
    "GAP": to_gap,
    "HELD": to_held,
    "TRIP": to_trip,
    "HELD, engine stopped": to_held_stopped,
    "TRIP in PURGING": to_trip_in_purge,
    "short TRIP": to_short_trip,
    "GAP after TRIP": to_gap_after_trip,
    "HELD after TRIP": to_held_after_trip,
    "blink of MASTER": to_blink_of_master,
    "lockout": to_lockout,
    "SERVICE": to_service,
    "BENCH-GAS": to_bench_gas,
    "BENCH-DRY": to_bench_dry,
    "venting": to_venting,
}
