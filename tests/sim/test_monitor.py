"""Each monitor is shown one hand-made recording that keeps its invariant and one that breaks it."""

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest

from oxlatch import vocabulary as v
from oxlatch.settings import Settings
from oxlatch_sim.monitor import MONITORS, NOT_MONITORED, Watch
from oxlatch_sim.observation import RAW_NAMES

SETTINGS = Settings()
LEAD, TAIL, RUN_OFF, PURGE = (
    SETTINGS.lead_ticks,
    SETTINGS.tail_ticks,
    SETTINGS.run_off_ticks,
    SETTINGS.purge_ticks,
)
CLOSED = v.SW_DETENT_NO
OPEN = v.SW_DETENT_NC


class Script:
    """A hand-made stream of whole ticks: `hold` keeps what was set and adds ticks."""

    def __init__(self) -> None:
        self.ticks: list[dict[str, Any]] = []
        self.now: dict[str, Any] = {
            "raw": [0] * len(RAW_NAMES),
            "verdict": {
                "sel": 3,
                "proof": 15,
                "contact": v.CONTACT_OPEN,
                "rpm": v.RPM_WINDOW,
                "supply": v.SUPPLY_PERMIT,
                "bus": v.BUS_PERMIT,
                "bench": 0,
            },
            "state": "WAITING",
            "latch": 0,
            "cmd": {"ox": 0, "fuel": 0},
            "out": {"ox": 0, "fuel": 0, "master_fuel": 0, "purge": 0, "run": 0},
        }
        self.now["raw"][v.RAW_THROTTLE_MV] = SETTINGS.throttle_full_mv
        self.switches(OPEN)

    def switches(self, word: int) -> "Script":
        """Set the two contact poles."""
        master = self.now["raw"][v.RAW_SWITCHES] & v.SW_MASTER
        return self.raw(v.RAW_SWITCHES, master | word)

    def master(self, on: bool) -> "Script":
        others = self.now["raw"][v.RAW_SWITCHES] & ~v.SW_MASTER
        return self.raw(v.RAW_SWITCHES, others | (v.SW_MASTER if on else 0))

    def raw(self, at: int, value: int) -> "Script":
        self.now["raw"][at] = value
        return self

    def set(self, **changes: Any) -> "Script":
        """Set verdicts, outputs or top-level keys by name."""
        for name, value in changes.items():
            if name in self.now["out"]:
                self.now["out"][name] = value
            elif name in self.now["verdict"]:
                self.now["verdict"][name] = value
            else:
                self.now[name] = value
        return self

    def hold(self, n: int = 1) -> "Script":
        for _ in range(n):
            self.ticks.append({**deepcopy(self.now), "tick": len(self.ticks)})
        return self

    def boot(self) -> "Script":
        """A reset before the next tick."""
        self.set(ox=0, fuel=0, master_fuel=0, purge=0, run=0, state="WAKE").hold()
        self.ticks[-1]["boot"] = 0
        return self

    def ready_and_push(self) -> "Script":
        self.set(state="READY", contact=v.CONTACT_OPEN).switches(OPEN).hold(3)
        return self.set(contact=v.CONTACT_CLOSED).switches(CLOSED)

    def open_one(self) -> "Script":
        """Stage 1 from push to both valves on."""
        self.ready_and_push().set(state="LEAD-IN", run=1, ox=1).hold(LEAD)
        return self.set(state="RUN", fuel=1, master_fuel=1).hold(3)

    def fresh_start(self, purge_ticks: int = PURGE) -> "Script":
        self.master(False).boot().switches(OPEN).hold(3)
        self.master(True).set(state="WAITING").hold(3)
        self.set(state="PURGING", purge=1, run=1).hold(purge_ticks)
        return self.set(state="WAITING", purge=0, run=0).hold()

    def close(self, tail: int = TAIL) -> "Script":
        self.set(contact=v.CONTACT_UNSURE, state="RUN-DOWN", fuel=0, master_fuel=0).switches(OPEN)
        return self.hold(tail).set(ox=0).hold(RUN_OFF - tail).set(run=0).hold().set(state="GAP").hold(3)


def lead_short() -> Script:
    return Script().ready_and_push().set(ox=1, run=1).hold(LEAD - 1).set(fuel=1, master_fuel=1).hold()


def fuel_with(**bad: Any) -> Script:
    return Script().open_one().set(**bad).hold()


def alone(ticks: int) -> Script:
    return Script().set(ox=1).hold(ticks)


def purge_with(**flow: int) -> Script:
    return Script().set(purge=1).hold(3).set(**flow).hold()


def second_stage(sel_before: int, sel_after: int) -> Script:
    script = Script().set(sel=sel_before).open_one().set(sel=sel_after).hold(10)
    return script.set(ox=3).hold(5)


def reopened() -> Script:
    return Script().set(sel=3).open_one().set(fuel=0).hold().set(ox=0).hold().set(ox=1).hold()


def held_through() -> Script:
    """READY is left and reached again with the contact closed all along."""
    script = Script().ready_and_push().hold().set(state="WAITING").hold().set(state="READY").hold(9)
    return script.set(state="LEAD-IN", ox=1).hold()


def master_never_cycled() -> Script:
    script = Script().master(True).boot().hold(9).set(purge=1).hold(PURGE).set(purge=0)
    return script.open_one()


def glitch_then_push() -> Script:
    """Power is lost after a full start; the next push comes without a purge."""
    script = Script().fresh_start().open_one().close().master(False).boot().hold(9)
    return script.master(True).hold(9).open_one()


def contact_never_open() -> Script:
    script = Script().switches(CLOSED).master(False).boot().hold(3).master(True).hold(3)
    return script.set(purge=1).hold(PURGE).set(purge=0, ox=1).hold()


def latching(sel: int) -> Script:
    return Script().set(state="READY", sel=sel).hold().set(state="LEAD-IN").hold()


def witness_against(**bad: int) -> Script:
    script = Script().ready_and_push()
    script.switches(bad.get("switches", CLOSED)).raw(v.RAW_THROTTLE_MV, bad.get("throttle", 4400))
    return script.hold(2).set(ox=1, state="LEAD-IN").hold()


def fuel_after_release() -> Script:
    return Script().open_one().set(contact=v.CONTACT_UNSURE).hold()


def run_lingers() -> Script:
    return Script().open_one().set(contact=v.CONTACT_UNSURE, fuel=0, master_fuel=0, ox=0).hold(RUN_OFF + 1)


def late_verdict() -> Script:
    """The contact opens and the verdict never follows."""
    return Script().open_one().switches(OPEN).hold(13)


def locked_then_boot(state: str, latch: int) -> Script:
    script = Script().set(state="TRIP", latch=3).hold(2).set(latch=0).boot()
    return script.set(state=state, latch=latch).hold(3)


def asked(cmd: dict[str, int]) -> Script:
    return Script().set(cmd=cmd).hold()


GOOD = {
    "I1": Script().open_one().close(),
    "I2": Script().open_one().close(),
    "I3": alone(16),
    "I4": purge_with(),
    "I5": Script().open_one().set(rpm=v.RPM_LOW, fuel=0, master_fuel=0, ox=0).hold(),
    "I6": Script().open_one().close().open_one(),
    "I7": second_stage(3, 3),
    "I8": Script().fresh_start().open_one(),
    "I9": latching(3),
    "I10": Script().set(state="TRIP").hold(),
    "I11": witness_against(),
    "I12": Script().open_one().close(),
    "I13": locked_then_boot("TRIP", 3),
    "I15": asked({"ox": 3, "fuel": 1}),
    "I16": Script().set(bench=1, ox=1).hold(30),
}

BAD = [
    ("I1", "fuel before the lead", lead_short()),
    ("I1", "fuel of another stage", fuel_with(fuel=2)),
    ("I1", "fuel outlasts oxidizer", fuel_with(ox=0)),
    ("I2", "no oxidizer", fuel_with(ox=0)),
    ("I2", "no proof", fuel_with(proof=14)),
    ("I2", "no master fuel", fuel_with(master_fuel=0)),
    ("I2", "no run switch", fuel_with(run=0)),
    ("I2", "contact not closed", fuel_with(contact=v.CONTACT_UNSURE)),
    ("I2", "rpm low", fuel_with(rpm=v.RPM_LOW)),
    ("I2", "rpm over", fuel_with(rpm=v.RPM_OVER)),
    ("I2", "supply at the cut", fuel_with(supply=v.SUPPLY_CUT)),
    ("I2", "bus at the cut", fuel_with(bus=v.BUS_CUT)),
    ("I2", "bus surges", fuel_with(bus=v.BUS_SURGE)),
    ("I3", "oxidizer alone 85 ms while opening", alone(17)),
    ("I3", "oxidizer alone a tick longer than the tail", Script().open_one().close(TAIL + 1)),
    ("I4", "purge with oxidizer", purge_with(ox=2)),
    ("I4", "purge with fuel", purge_with(fuel=1)),
    ("I5", "oxidizer with rpm low", Script().set(rpm=v.RPM_LOW, ox=1).hold()),
    ("I5", "master fuel with rpm silent", Script().set(rpm=v.RPM_SILENT, master_fuel=1).hold()),
    ("I6", "contact held through", held_through()),
    ("I6", "no push at all", Script().set(state="READY").hold(3).set(ox=1).hold()),
    ("I7", "selector turned on in flow", second_stage(1, 3)),
    ("I7", "selector turned off before its stage", second_stage(3, 1)),
    ("I7", "stage opens twice", reopened()),
    ("I8", "master on since power-up", master_never_cycled()),
    ("I8", "purge too short", Script().fresh_start(PURGE - 1).open_one()),
    ("I8", "reset in between", glitch_then_push()),
    (
        "I8",
        "master off after the purge",
        Script().fresh_start().master(False).hold(3).master(True).open_one(),
    ),
    ("I8", "contact never open", contact_never_open()),
    ("I9", "pattern not allowed", latching(8)),
    ("I9", "nothing selected", latching(0)),
    *[
        ("I10", f"{name} driven in {state}", Script().set(state=state, **{name: 1}).hold())
        for state, name in (
            ("WAKE", "run"),
            ("REST", "purge"),
            ("HELD", "ox"),
            ("SERVICE", "fuel"),
            ("TRIP", "master_fuel"),
        )
    ],
    ("I11", "normally-open pole not made", witness_against(switches=0)),
    ("I11", "normally-closed pole made", witness_against(switches=CLOSED | OPEN)),
    ("I11", "throttle low", witness_against(throttle=SETTINGS.throttle_drop_mv - 1)),
    ("I11", "throttle signal above its range", witness_against(throttle=SETTINGS.sensor_high_mv + 1)),
    ("I12", "fuel in the tick of release", fuel_after_release()),
    ("I12", "tail too long", Script().open_one().close(TAIL + 1)),
    ("I12", "run switch lingers", run_lingers()),
    ("I12", "verdict never follows the contact", late_verdict()),
    ("I13", "lockout gone after reset", locked_then_boot("REST", 0)),
    ("I13", "lockout weaker after reset", locked_then_boot("TRIP", 2)),
    ("I15", "fuel asked alone", asked({"ox": 1, "fuel": 3})),
    ("I15", "fuel driven alone", fuel_with(ox=0)),
    ("I16", "fuel on the bench key", Script().set(bench=1, fuel=1).hold()),
    ("I16", "master fuel on the bench key", Script().set(bench=1, master_fuel=1).hold()),
]


def watch(ticks: list[dict[str, Any]]) -> Watch:
    watching = Watch(SETTINGS)
    for tick in ticks:
        watching.step(tick)
    return watching


def finding(identity: str, script: Script) -> Any:
    return next(found for found in watch(script.ticks).findings() if found.id == identity)


@pytest.mark.parametrize("identity", GOOD)
def test_monitor_holds_on_a_recording_that_keeps_its_invariant(identity: str) -> None:
    found = finding(identity, GOOD[identity])
    assert found.held and not found.vacuous and not found.missing


@pytest.mark.parametrize(("identity", "why", "script"), BAD, ids=[f"{row[0]}-{row[1]}" for row in BAD])
def test_monitor_fails_on_a_recording_that_breaks_its_invariant(
    identity: str, why: str, script: Script
) -> None:
    found = finding(identity, script)
    assert not found.held, why
    assert found.first_tick is not None


def test_first_tick_is_the_first_that_broke_the_invariant() -> None:
    assert finding("I3", alone(40)).first_tick == 16


def test_a_whole_flow_with_its_start_breaks_no_monitor() -> None:
    script = Script().fresh_start().open_one().close().open_one().close()
    assert watch(script.ticks).broken == {}


def test_every_monitor_has_a_good_and_a_bad_recording() -> None:
    identities = {monitor.id for monitor in MONITORS}
    assert identities == set(GOOD) == {row[0] for row in BAD}


def test_every_invariant_is_monitored_or_says_why_not() -> None:
    named = {monitor.id for monitor in MONITORS} | set(NOT_MONITORED)
    assert named == {f"I{n}" for n in range(1, 18)}


def test_nothing_happening_is_vacuous_for_monitors_of_flow() -> None:
    found = {f.id: f.vacuous for f in watch(Script().hold(5).ticks).findings()}
    assert all(
        found[identity] for identity in ("I1", "I2", "I3", "I6", "I7", "I8", "I9", "I11", "I12", "I15")
    )


def unneeded(ticks: list[dict[str, Any]], key: str) -> Iterator[dict[str, Any]]:
    for tick in ticks:
        yield {name: value for name, value in tick.items() if name != key}


@pytest.mark.parametrize("key", ["raw", "verdict", "state", "latch", "cmd", "out"])
def test_a_monitor_without_its_keys_says_so_and_claims_nothing(key: str) -> None:
    stripped = list(unneeded(Script().open_one().ticks, key))
    for found, monitor in zip(watch(stripped).findings(), MONITORS, strict=True):
        assert found.missing == ((key,) if key in monitor.needs else ())
        assert not found.missing or found.vacuous
