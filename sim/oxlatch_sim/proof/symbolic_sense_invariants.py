"""What the counters of sense mean: the strengthenings of its proof.

The counters of the firmware are shown to be the proof's own runs, cut off where the settings say. From
that follows, channel by channel, which samples a verdict stands for. The same claims cover the firmware's
short cuts: a calm channel is shown to say what the long way would have said.
"""

# mypy: disallow-untyped-defs=False

from __future__ import annotations

from oxlatch.sense import HISTORY_TICKS
from oxlatch.sense_engine import CALM_BACK
from oxlatch.sense_fuel import DRY_LOOKS, LEAK_SETTLE_TICKS
from oxlatch.sense_supply import TREND_SAMPLES
from oxlatch.sense_volts import CALM_DEAD
from oxlatch.vocabulary import (
    BLOCK_FAULT,
    COIL_OX,
    FIT_CURRENTS,
    FIT_FUEL_PRESSURE,
    FIT_MASTER_FUEL,
    FIT_PROOF,
    FIT_RAIL,
    FIT_THROTTLE,
    FUEL_PERMIT,
    SUPPLY_PERMIT,
    SW_DETENT_NO,
    SW_PROOF_SHIFT,
)
from oxlatch_sim.proof.symbolic_engine import claim
from oxlatch_sim.proof.symbolic_past import SUMS


def cut_off(run, limit):
    """A run as a counter with a limit keeps it."""
    return run if run < limit else limit


# --- switches and coils -----------------------------------------------------------------------


def switch_history(sense, past):
    """The words h1 to h5 are the last five switch words with agreed poles."""
    same = sense.h1 == past.x[0] and sense.h2 == past.x[1] and sense.h3 == past.x[2]
    return same and sense.h4 == past.x[3] and sense.h5 == past.x[4]


def switches_at_rest(sense, past, c):
    """As many words as same_n says have been equal; after enough of them the debounced word is that word."""
    for i in range(1, 6):
        if sense.same_n >= i and past.x[i] != past.x[0]:
            return False
    if sense.same_n >= HISTORY_TICKS and sense.switches != past.x[0]:
        return False
    if not c.fitted & FIT_PROOF:
        return sense.proof == 0
    return not sense.same_n or sense.proof == (past.x[0] >> SW_PROOF_SHIFT) & 15


def coil_history(sense, past, c):
    """The words current_1 and d1 to d5 are the last words of coil current and command."""
    if not c.fitted & FIT_CURRENTS:
        return sense.current == 0
    if sense.current_1 != past.coil[0] or sense.d1 != past.driven[0] or sense.d2 != past.driven[1]:
        return False
    if sense.d3 != past.driven[2] or sense.d4 != past.driven[3] or sense.d5 != past.driven[4]:
        return False
    for i in range(1, 6):
        if sense.coils_same_n >= i and (past.driven[i] != past.driven[0] or past.coil[i] != past.coil[0]):
            return False
    return True


def coils_at_rest(sense, past, c):
    """After equal words the remembered current, absence and stray are those of that word."""
    if not c.fitted & FIT_CURRENTS:
        return True
    if sense.coils_same_n and sense.current != past.coil[0]:
        return False
    if (
        sense.absent_1 != past.driven[0] & past.driven[1] & past.driven[2] & ~past.coil[0]
        and sense.coils_same_n < HISTORY_TICKS
    ):
        return False
    if sense.coils_same_n >= HISTORY_TICKS:
        return sense.absent_1 == past.driven[0] & ~past.coil[0] and sense.stray_1 == past.coil[0] & ~past.driven[0]
    seen = past.driven[0] | past.driven[1] | past.driven[2] | past.driven[3] | past.driven[4] | past.driven[5]
    return sense.stray_1 == past.coil[0] & ~seen


def contact_counts(sense, past, c):
    """The counters of contact, purge button and proofs are runs, cut off at their limits."""
    if sense.unsure_n != cut_off(past.unsure, c.contact_fault_ticks) or sense.chatter_n != past.chatter:
        return False
    if sense.stuck_n != cut_off(past.stuck, c.detent_stuck_ticks) or sense.shut_watch != past.watched:
        return False
    if sense.shut_n != cut_off(past.unshut, c.shut_stuck_ticks):
        return False
    return sense.purge_held_n == cut_off(past.held, c.purge_stuck_ticks)


def short_history(sense, past, c):
    """The word short_1 is the last word of coils over their trip current."""
    return not c.fitted & FIT_CURRENTS or sense.short_1 == past.short_0


# --- throttle and engine ------------------------------------------------------------------------


def slope_rings(sense, past, c):
    """The rings hold the last eight samples of throttle and engine speed."""
    for i in range(8):
        at = (sense.phase - i) & 7
        if sense.rpm_ring[at] != past.rpm[i]:
            return False
        if c.fitted & FIT_THROTTLE and sense.throttle_ring[at] != past.throttle[i]:
            return False
    return True


def throttle_counts(sense, past, c):
    """Throttle counters are runs of samples, cut off at their limits."""
    if not c.fitted & FIT_THROTTLE:
        return True
    if sense.throttle_fault_n != cut_off(past.throttle_outside, 2) or sense.throttle_drop_n != cut_off(
        past.throttle_drop, 2
    ):
        return False
    return sense.throttle_full_n == cut_off(past.throttle_full, c.throttle_full_ticks)


def throttle_at_rest(sense, c):
    """A calm throttle channel has been back, or full, for long enough and has every other counter at zero."""
    if not sense.throttle_calm or not c.fitted & FIT_THROTTLE:
        return True
    if sense.throttle_fault_n:
        return False
    if sense.throttle_calm == CALM_BACK:
        return sense.throttle_drop_n == 2 and not sense.throttle_full_n and sense.throttle_low_seen
    return not sense.throttle_drop_n and sense.throttle_full_n == c.throttle_full_ticks


def rpm_counts(sense, past, c):
    """Engine speed counters are runs of samples, cut off at their limits."""
    if sense.rpm_stopped_n != cut_off(past.silent, c.rpm_stopped_ticks):
        return False
    if sense.rpm_low_n != cut_off(past.rpm_low, c.rpm_low_ticks):
        return False
    if sense.rpm_fall_n != cut_off(past.rpm_fall, c.rpm_fall_ticks):
        return False
    if sense.rpm_over_n != cut_off(past.rpm_over, c.rpm_over_ticks):
        return False
    return sense.rpm_noise_n == past.noise and sense.rpm_window_n == cut_off(past.rpm_steady, c.rpm_window_ticks)


def rpm_at_rest(sense, c):
    """A calm engine channel has its window earned and every other counter at zero."""
    if not sense.rpm_calm:
        return True
    if sense.rpm_stopped_n or sense.rpm_low_n or sense.rpm_fall_n or sense.rpm_noise_n or sense.rpm_over_n:
        return False
    return sense.rpm_window_n == c.rpm_window_ticks


# --- pressures ----------------------------------------------------------------------------------


def supply_counts(sense, past, c):
    """Line pressure counters are runs of samples, cut off at their limits."""
    if sense.supply_fault_n != cut_off(past.supply_outside, 2) or sense.supply_empty_n != cut_off(past.supply_empty, 2):
        return False
    if sense.supply_cut_n != cut_off(past.supply_cut, c.supply_cut_ticks):
        return False
    if sense.supply_leave_n != cut_off(past.supply_leave, c.supply_leave_ticks):
        return False
    if sense.supply_high_n != cut_off(past.supply_over, c.supply_leave_ticks):
        return False
    if sense.supply_permit_n != cut_off(past.supply_inside, c.supply_permit_ticks):
        return False
    return sense.supply_blank_n == past.blank and sense.supply_ox == past.driven[0] & COIL_OX


def supply_at_rest(sense, c):
    """A calm line pressure channel has its permit earned and looks away from nothing."""
    if not sense.supply_calm:
        return True
    return not sense.supply_blank_n and sense.supply_ok and sense.supply_permit_n == c.supply_permit_ticks


def supply_permit_is_earned(sense, past, v, c):
    """The permit stands only while no sustained run below or above its band does."""
    if (sense.supply_ok != 0) != (v.supply == SUPPLY_PERMIT):
        return False
    if not sense.supply_ok:
        return True
    return past.supply_leave < c.supply_leave_ticks and past.supply_over < c.supply_leave_ticks


def trend_sums(sense, past):
    """The sum is that of the samples of this second with no valve moved, below samples times 2^16."""
    if sense.sum_n != past.second_n or sense.sum_n >= TREND_SAMPLES or sense.sum_driven != past.sum_coils:
        return False
    if sense.sum != past.second_sum or sense.sum > sense.sum_n << 16 or sense.seconds != past.seconds:
        return False
    return not (sense.falling or sense.line_lost) or sense.seconds


def trend_ring(sense, past):
    """The sums of the last ten seconds, and the last of them beside them, are the proof's own."""
    for i in range(SUMS):
        if sense.sum_ring[i] != past.sums[i]:
            return False
    return sense.sum_at == past.sums_at and sense.sum_before == past.last_sum


def fuel_counts(sense, past, c):
    """Fuel pressure counters are runs of samples, cut off at their limits."""
    if not c.fitted & FIT_FUEL_PRESSURE:
        return True
    if (sense.fuel_ok != 0) != (past.fuel == FUEL_PERMIT):
        return False
    if sense.fuel_fault_n != cut_off(past.fuel_outside, 2) or sense.fuel_fail_n != cut_off(past.fuel_fail, 2):
        return False
    if sense.fuel_cut_n != cut_off(past.fuel_cut, c.fuel_cut_ticks) or sense.fuel_over_n != cut_off(past.fuel_over, 2):
        return False
    if not sense.fuel_calm and sense.fuel_high_n != cut_off(past.fuel_high, c.fuel_high_ticks):
        return False
    if sense.fuel_leave_n != cut_off(past.fuel_not_inside, c.fuel_leave_ticks):
        return False
    return sense.fuel_permit_n == cut_off(past.fuel_inside, c.fuel_permit_ticks)


def fuel_at_rest(sense, c):
    """A calm fuel channel has its permit earned and no run above its band."""
    if not (sense.fuel_calm and c.fitted & FIT_FUEL_PRESSURE):
        return True
    return sense.fuel_ok and not sense.fuel_high_n and sense.fuel_permit_n == c.fuel_permit_ticks


def block_counts(sense, past, c):
    """Leak counters are at most the runs of looks at the block."""
    if not c.fitted & FIT_MASTER_FUEL:
        return not sense.block_dry_n
    if sense.block_dry_n != cut_off(past.block_dry, DRY_LOOKS):
        return False
    if sense.block_fault_n != cut_off(past.block_outside, 1) or sense.block_bled > past.bled:
        return False
    if sense.block_found == BLOCK_FAULT or (sense.block_level == BLOCK_FAULT and past.block_outside < 2):
        return False
    if sense.watch_n < LEAK_SETTLE_TICKS and (sense.block_fall_n or sense.block_climb_n or sense.block_bled):
        return False
    if sense.watch_n < LEAK_SETTLE_TICKS + c.leak_watch_ticks and sense.block_fall_n > past.block_down:
        return False
    return sense.block_climb_n <= past.block_up


# --- volts --------------------------------------------------------------------------------------


def bus_counts(sense, past, c):
    """Bus counters are runs of samples, cut off at their limits."""
    if sense.bus_hard_n != cut_off(past.bus_hard, 2) or sense.bus_cut_n != cut_off(past.bus_cut, c.bus_cut_ticks):
        return False
    if sense.bus_surge_n != cut_off(past.bus_surge, c.bus_cut_ticks):
        return False
    if sense.bus_ok != past.bus_good:
        return False
    run = past.bus_not_permit if sense.bus_ok else past.bus_permit
    return sense.bus_ok_n == run and run <= c.bus_leave_ticks


def bus_at_rest(sense):
    """A calm bus channel has its permit and every counter at zero."""
    return not sense.bus_calm or (sense.bus_ok and not (sense.bus_cut_n or sense.bus_surge_n or sense.bus_ok_n))


def rail_counts(sense, past, c):
    """Rail counters are runs of samples, cut off at their limits."""
    if not c.fitted & FIT_RAIL:
        return True
    if sense.rail_live_n != cut_off(past.rail_live, 2) or sense.rail_weak_n != cut_off(past.rail_not_live, 2):
        return False
    if sense.rail_live != past.rail_good:
        return False
    if (sense.rail_live and past.rail_not_live > 1) or (not sense.rail_live and past.rail_live > 1):
        return False
    return sense.rail_dead_n == cut_off(past.rail_dead, 2) and sense.rail_weld_n == cut_off(
        past.rail_unasked, c.rail_weld_ticks
    )


def contact_runs(past):
    """A run without agreement ends with a sample that agrees closed."""
    return not (past.not_closed and past.x[0] & SW_DETENT_NO)


def rpm_runs(past):
    """A run in the window is no silent, low or over one, and none without noise is longer."""
    return past.rpm_steady <= past.rpm_inside and not (
        past.rpm_inside and (past.silent or past.rpm_low or past.rpm_over)
    )


def supply_runs(past):
    """A run below a lower line pressure is no longer than one below a higher, and none is inside the band."""
    if past.supply_empty > past.supply_leave or past.supply_cut > past.supply_leave:
        return False
    return not (past.supply_inside and (past.supply_outside or past.supply_leave or past.supply_over))


def fuel_runs(past):
    """Every run of bad fuel pressure is one outside its band."""
    if past.fuel_outside > past.fuel_not_inside or past.fuel_fail > past.fuel_not_inside:
        return False
    if past.fuel_cut > past.fuel_not_inside or past.fuel_over > past.fuel_not_inside:
        return False
    return past.fuel_high <= past.fuel_not_inside and not (past.fuel_inside and past.fuel_not_inside)


def bus_runs(past):
    """A run below a lower bus voltage is no longer than one below a higher."""
    if past.bus_hard > past.bus_cut or past.bus_cut > past.bus_not_permit:
        return False
    return not (past.bus_permit and past.bus_not_permit)


def rail_runs(past):
    """A dead rail is not live, and not welded."""
    if past.rail_dead > past.rail_not_live or (past.rail_dead and past.rail_unasked):
        return False
    return not (past.rail_live and past.rail_not_live)


def rail_at_rest(sense, c):
    """A calm rail channel has been dead, or live, for two samples and counts nothing."""
    if not sense.rail_calm or not c.fitted & FIT_RAIL:
        return True
    if sense.rail_weld_n:
        return False
    if sense.rail_calm == CALM_DEAD:
        return sense.rail_dead_n == 2 and sense.rail_weak_n == 2 and not sense.rail_live
    return sense.rail_live_n == 2 and not sense.rail_dead_n and sense.rail_live


def late_history(sense, past):
    """A remembered late tick was late."""
    return (sense.late != 0) == (past.late != 0)


STRENGTHENINGS = (
    claim("sense.switch history", "", switch_history),
    claim("sense.switches at rest", "", switches_at_rest),
    claim("sense.coil history", "", coil_history),
    claim("sense.coils at rest", "", coils_at_rest),
    claim("sense.contact counts", "", contact_counts),
    claim("sense.short history", "", short_history),
    claim("sense.rings", "", slope_rings),
    claim("sense.throttle counts", "", throttle_counts),
    claim("sense.throttle at rest", "", throttle_at_rest),
    claim("sense.rpm counts", "", rpm_counts),
    claim("sense.rpm at rest", "", rpm_at_rest),
    claim("sense.supply counts", "", supply_counts),
    claim("sense.supply at rest", "", supply_at_rest),
    claim("sense.supply permit", "", supply_permit_is_earned),
    claim("sense.trend", "", trend_sums),
    claim("sense.trend ring", "", trend_ring),
    claim("sense.fuel counts", "", fuel_counts),
    claim("sense.fuel at rest", "", fuel_at_rest),
    claim("sense.block counts", "", block_counts),
    claim("sense.bus counts", "", bus_counts),
    claim("sense.bus at rest", "", bus_at_rest),
    claim("sense.rail counts", "", rail_counts),
    claim("sense.rail at rest", "", rail_at_rest),
    claim("sense.contact runs", "", contact_runs),
    claim("sense.rpm runs", "", rpm_runs),
    claim("sense.supply runs", "", supply_runs),
    claim("sense.fuel runs", "", fuel_runs),
    claim("sense.bus runs", "", bus_runs),
    claim("sense.rail runs", "", rail_runs),
    claim("sense.late", "", late_history),
)
