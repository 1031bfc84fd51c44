"""The invariants, each as a monitor over a stream of whole ticks.

Each is written from the words of its invariant and knows nothing of how the controller decides: it reads
ticks (see `observation`) and the settings, and keeps its own history.
"""

from typing import Any

from oxlatch import vocabulary as v
from oxlatch_sim.altitude_row import ROW_FIELDS
from oxlatch_sim.observation import Tick

STAGES = range(v.STAGES_MAX)
FLOWING = ("LEAD-IN", "RUN", "RUN-DOWN")
AT_REST = ("WAKE", "REST", "HELD", "SERVICE", "TRIP")
ALONE_MAX_TICKS = 80 // v.TICK_MS
RELEASE_MAX_TICKS = 60 // v.TICK_MS
SPENT_SAMPLES = 2
"""A stop filter is two samples: an open pole may stand in one sample without being believed."""


class Monitor:
    """One invariant. `check` answers True or False when a tick put it to the test, else None."""

    id: str
    words: str
    needs: tuple[str, ...]

    def __init__(self, settings: Any) -> None:
        self.c = settings
        self.on_boot()

    def on_boot(self) -> None:
        """Forget what a reset ends."""

    def check(self, tick: Tick) -> bool | None:
        """Judge one tick."""
        raise NotImplementedError

    def fits(self, bit: int) -> bool:
        """Whether an input is fitted."""
        return bool(self.c.fitted & bit)


def on_bench(tick: Tick) -> bool:
    """Whether the bench key is in and the engine stands still: oxidizer valves may then be tried alone."""
    return bool(tick["verdict"].get("bench")) and tick["verdict"]["rpm"] == v.RPM_STOPPED


class FuelBehindOxidizer(Monitor):
    id = "I1"
    words = "a stage's fuel is on only while its oxidizer is on and has been for at least the lead"
    needs = ("out",)

    def on_boot(self) -> None:
        self.age = [-1] * v.STAGES_MAX

    def check(self, tick: Tick) -> bool | None:
        ox, fuel = tick["out"]["ox"], tick["out"]["fuel"]
        good = True
        for i in STAGES:
            self.age[i] = self.age[i] + 1 if ox >> i & 1 else -1
            if fuel >> i & 1 and self.age[i] < self.c.lead_ticks:
                good = False
        return good if fuel else None


class FuelNeedsEveryVerdict(Monitor):
    id = "I2"
    words = (
        "fuel needs its oxidizer, its proof, the master fuel valve, the run switch, and in the same tick "
        "good verdicts for push, rpm, supply and bus"
    )
    needs = ("out", "verdict")

    def check(self, tick: Tick) -> bool | None:
        out, verdict = tick["out"], tick["verdict"]
        fuel = out["fuel"]
        if not fuel:
            return None
        return bool(
            fuel & ~out["ox"] == 0
            and (fuel & ~verdict["proof"] == 0 or not self.fits(v.FIT_PROOF))
            and (out["master_fuel"] or not self.fits(v.FIT_MASTER_FUEL))
            and out["run"]
            and verdict["contact"] == v.CONTACT_CLOSED
            and v.RPM_HOLD <= verdict["rpm"] <= v.RPM_WINDOW
            and verdict["supply"] > v.SUPPLY_CUT
            and v.BUS_CUT < verdict["bus"] < v.BUS_SURGE
        )


class OxidizerAloneIsBrief(Monitor):
    id = "I3"
    words = (
        "a stage's oxidizer is on without its fuel for at most the lead limit while opening and the tail while "
        "closing, and never over 80 ms"
    )
    needs = ("out", "verdict")

    def on_boot(self) -> None:
        self.alone = [0] * v.STAGES_MAX
        self.limit = [self.c.lead_limit_ticks] * v.STAGES_MAX

    def check(self, tick: Tick) -> bool | None:
        ox, fuel = tick["out"]["ox"], tick["out"]["fuel"]
        alone = 0 if tick["verdict"]["bench"] else ox & ~fuel
        good = True
        for i in STAGES:
            if fuel >> i & 1:
                self.limit[i] = self.c.tail_ticks
            elif not ox >> i & 1:
                self.limit[i] = self.c.lead_limit_ticks
            self.alone[i] = self.alone[i] + 1 if alone >> i & 1 else 0
            good = good and self.alone[i] <= min(self.limit[i], ALONE_MAX_TICKS)
        return good if alone else None


class NoPurgeInFlow(Monitor):
    id = "I4"
    words = "the purge valve is never open with any stage valve"
    needs = ("out",)

    def check(self, tick: Tick) -> bool | None:
        out = tick["out"]
        flow = out["ox"] | out["fuel"]
        return not (out["purge"] and flow) if out["purge"] or flow else None


class NoFlowWithoutEngine(Monitor):
    id = "I5"
    words = "without a good rpm verdict every stage output is zero in that tick; on the bench every fuel output"
    needs = ("out", "verdict")

    def check(self, tick: Tick) -> bool | None:
        if tick["verdict"]["rpm"] >= v.RPM_HOLD:
            return None
        ox = 0 if on_bench(tick) else tick["out"]["ox"]
        return not (ox | tick["out"]["fuel"] | tick["out"]["master_fuel"])


class OpensOnAPush(Monitor):
    id = "I6"
    words = "nothing opens without the contact going from open to closed after READY was reached, but on the bench"
    needs = ("out", "state", "verdict")

    def on_boot(self) -> None:
        self.armed = self.pushed = False
        self.contact = v.CONTACT_UNSURE
        self.ox = 0

    def check(self, tick: Tick) -> bool | None:
        contact, ox, state = tick["verdict"]["contact"], tick["out"]["ox"], tick["state"]
        if self.armed and contact == v.CONTACT_CLOSED and self.contact != v.CONTACT_CLOSED:
            self.pushed = True
        opening = ox and not self.ox
        good = self.pushed
        self.contact, self.ox = contact, ox
        if state == "READY":
            self.armed = self.armed or contact == v.CONTACT_OPEN
        elif state not in FLOWING:
            self.armed = self.pushed = False
        return good if opening and not on_bench(tick) else None


class StageSetNeverGrows(Monitor):
    id = "I7"
    words = "in one flow no stage opens that was not selected at the push and since, and none opens twice"
    needs = ("out", "state", "verdict")

    def on_boot(self) -> None:
        self.allowed = self.ox = 0
        self.flowing = False

    def check(self, tick: Tick) -> bool | None:
        ox, selected = tick["out"]["ox"], tick["verdict"]["sel"]
        flowing = tick["state"] in FLOWING
        if flowing and not self.flowing:
            self.allowed = selected
        self.allowed = self.allowed & selected & ~(self.ox & ~ox) if flowing else 0
        rising = 0 if on_bench(tick) else ox & ~self.ox
        self.ox, self.flowing = ox, flowing
        return rising & ~self.allowed == 0 if rising else None


class FreshStartAfterReset(Monitor):
    id = "I8"
    words = (
        "after a reset nothing opens before master off then on, contact open, and, but on the bench, a full purge "
        "since then"
    )
    needs = ("raw", "out", "verdict")

    def on_boot(self) -> None:
        self.off_seen = self.on_seen = self.open_seen = self.purged = False
        self.off_n = self.purge_n = self.ox = 0
        self.known = False

    def check(self, tick: Tick) -> bool | None:
        self.known = self.known or "boot" in tick
        switches, out = tick["raw"][v.RAW_SWITCHES], tick["out"]
        self._master(bool(switches & v.SW_MASTER))
        if not switches & v.SW_DETENT_NO and (switches & v.SW_DETENT_NC or not self.fits(v.FIT_DETENT_NC)):
            self.open_seen = True
        self._purge(bool(out["purge"]))
        opening = out["ox"] & ~self.ox
        self.ox = out["ox"]
        if not opening or not self.known:
            return None
        return self.on_seen and self.open_seen and (self.purged or on_bench(tick))

    def _master(self, on: bool) -> None:
        self.off_n = 0 if on else self.off_n + 1
        if self.off_n >= SPENT_SAMPLES:
            self.off_seen = True
            self.on_seen = self.purged = False
        elif on and self.off_seen:
            self.on_seen = True

    def _purge(self, on: bool) -> None:
        if on and self.purge_n == 0:
            self.purged = False
        self.purge_n = self.purge_n + 1 if on else 0
        self.purged = self.purged or self.purge_n >= self.c.purge_ticks


class PatternAllowed(Monitor):
    id = "I9"
    words = "the stages selected in the tick in which the push latches them are a pattern the altitude row allows"
    needs = ("state", "verdict")

    def on_boot(self) -> None:
        self.flowing = False

    def check(self, tick: Tick) -> bool | None:
        flowing = tick["state"] in FLOWING
        latching = flowing and not self.flowing
        self.flowing = flowing
        patterns = getattr(self.c, ROW_FIELDS[tick["verdict"].get("row", 0)])
        return bool(patterns >> tick["verdict"]["sel"] & 1) if latching else None


class NothingDrivenAtRest(Monitor):
    id = "I10"
    words = "every valve and the run switch are off in WAKE, REST, HELD, SERVICE and TRIP"
    needs = ("out", "state")

    def check(self, tick: Tick) -> bool | None:
        if tick["state"] not in AT_REST:
            return None
        out = tick["out"]
        return not any(out.get(name) for name in ("ox", "fuel", "master_fuel", "purge", "run", "master_ox"))


class EveryWitnessAgrees(Monitor):
    id = "I11"
    words = (
        "a stage valve opens only while every fitted witness of the push agrees, so one lost input opens none"
    )
    needs = ("raw", "out")

    def on_boot(self) -> None:
        self.against = [0, 0, 0]
        self.driven = 0

    def check(self, tick: Tick) -> bool | None:
        raw = tick["raw"]
        switches, throttle_mv = raw[v.RAW_SWITCHES], raw[v.RAW_THROTTLE_MV]
        low = throttle_mv < self.c.throttle_drop_mv or throttle_mv > self.c.sensor_high_mv
        denials = (
            not switches & v.SW_DETENT_NO,
            self.fits(v.FIT_DETENT_NC) and switches & v.SW_DETENT_NC,
            self.fits(v.FIT_THROTTLE) and low,
        )
        for i, denied in enumerate(denials):
            self.against[i] = self.against[i] + 1 if denied else 0
        driven = tick["out"]["ox"] | tick["out"]["fuel"] << v.STAGES_MAX
        opening = driven & ~self.driven
        self.driven = driven
        return max(self.against) < SPENT_SAMPLES if opening else None


class ReleaseEndsFlow(Monitor):
    id = "I12"
    words = (
        "at release fuel and master fuel are off in that tick, oxidizer within the tail, the run switch within "
        "its delay; no stage valve is on 60 ms after the contact opened"
    )
    needs = ("raw", "out", "verdict")

    def on_boot(self) -> None:
        self.released_n = self.lingering_n = self.open_n = 0
        self.tested = False

    def check(self, tick: Tick) -> bool | None:
        out, switches = tick["out"], tick["raw"][v.RAW_SWITCHES]
        closed = tick["verdict"]["contact"] == v.CONTACT_CLOSED
        self.released_n = 0 if closed else self.released_n + 1
        self.lingering_n = 0 if closed or out["purge"] or not out["run"] else self.lingering_n + 1
        made = switches & v.SW_DETENT_NO and not (self.fits(v.FIT_DETENT_NC) and switches & v.SW_DETENT_NC)
        self.open_n = 0 if made else self.open_n + 1
        driven = out["ox"] or out["fuel"] or out["master_fuel"]
        good = not (
            (self.released_n and (out["fuel"] or out["master_fuel"]))
            or (self.released_n > self.c.tail_ticks and out["ox"])
            or self.lingering_n > self.c.run_off_ticks
            or (self.open_n > RELEASE_MAX_TICKS and driven)
        )
        tested = (self.released_n == 1 and self.tested) or not good
        self.tested = bool(driven)
        return good if tested else None


class LockoutOutlivesPower(Monitor):
    id = "I13"
    words = "a lockout that stands at a reset stands after it, where lockout memory is fitted"
    needs = ("state", "latch")
    latch = 0

    def on_boot(self) -> None:
        self.due = self.latch
        self.latch = 0

    def check(self, tick: Tick) -> bool | None:
        self.latch = tick["latch"] if tick["latch"] >= 3 and self.fits(v.FIT_LOCKOUT_MEMORY) else 0
        if not self.due or tick["state"] == "WAKE":
            return None
        good = tick["state"] == "TRIP" and tick["latch"] >= self.due
        self.due = 0
        return good


class NothingAsksForFuelAlone(Monitor):
    id = "I15"
    words = "neither what is asked nor what is driven ever has fuel on with the same stage's oxidizer off"
    needs = ("cmd", "out")

    def check(self, tick: Tick) -> bool | None:
        cmd, out = tick["cmd"], tick["out"]
        if not (cmd["fuel"] | out["fuel"]):
            return None
        return not (cmd["fuel"] & ~cmd["ox"] or out["fuel"] & ~out["ox"])


class NoFuelOnTheBenchKey(Monitor):
    id = "I16"
    words = "with the bench key in, fuel and master fuel are off"
    needs = ("out", "verdict")

    def check(self, tick: Tick) -> bool | None:
        if not tick["verdict"]["bench"]:
            return None
        return not (tick["out"]["fuel"] | tick["out"]["master_fuel"])


MONITORS: tuple[type[Monitor], ...] = (
    FuelBehindOxidizer,
    FuelNeedsEveryVerdict,
    OxidizerAloneIsBrief,
    NoPurgeInFlow,
    NoFlowWithoutEngine,
    OpensOnAPush,
    StageSetNeverGrows,
    FreshStartAfterReset,
    PatternAllowed,
    NothingDrivenAtRest,
    EveryWitnessAgrees,
    ReleaseEndsFlow,
    LockoutOutlivesPower,
    NothingAsksForFuelAlone,
    NoFuelOnTheBenchKey,
)

NOT_MONITORED = {
    "I14": "that logging and serial delay no tick by 1 ms: a recording counts whole ticks; the loop's tests time it",
    "I17": "that no serial frame changes a sample without the strap: a recording begins at the samples",
}
"""Invariants a recording cannot show, and what shows them."""
