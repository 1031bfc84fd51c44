"""The bench as pages fly it: the same again after a rewind, branches, saving, and hands that go."""

from pathlib import Path
from typing import Any

import pytest
from tests.host_tools.panel.served import HAND, arrive, do, do_sortie, let_pass

from oxlatch_sim.recording import controller_words, read_recording
from oxlatch_sim.replay import replay
from oxlatch_tools.panel.bench_session import BenchSession
from oxlatch_tools.panel.deeds import BOTTLE_C, Deed
from oxlatch_tools.panel.history import LONGEST_GAP_TICKS, SNAPSHOTS_MAX, History, Snapshot
from oxlatch_tools.panel.messages import MessageError


def everything(session: BenchSession) -> Any:
    """Every number that could differ between two runs of the same ticks."""
    bench = session.flown.bench
    plant = session.frame()["plant"]
    return bench.ticks, controller_words(bench.controller), list(bench.raw), plant, bench.plant.random.getstate()


def test_a_rewind_and_a_run_come_to_the_very_same_numbers(session: BenchSession) -> None:
    do_sortie(session)
    do(session, "fault", name="proof_stuck_off@1", on=True)
    let_pass(session, 1.0)
    end, before = session.flown.tick, everything(session)
    assert session.frame()["state"] == "TRIP"
    for back in (1, 37, 700, end):
        do(session, "seek", tick=end - back)
        arrive(session)
        assert session.flown.tick == end - back
        do(session, "seek", tick=end)
        arrive(session)
        assert everything(session) == before


def test_running_on_from_the_past_does_again_what_was_done(session: BenchSession) -> None:
    do_sortie(session)
    end, before = session.flown.tick, everything(session)
    do(session, "seek", tick=1000)
    arrive(session)
    do(session, "run")
    let_pass(session, (end - 1000) / 200)
    assert everything(session) == before


def test_a_deed_in_the_past_begins_a_branch_and_the_old_one_can_be_had_back(session: BenchSession) -> None:
    do_sortie(session)
    head, old = session.flown.tick, everything(session)
    fork = head - 250
    do(session, "seek", tick=fork)
    arrive(session)
    do(session, "fault", name="ox_coil_open@2", on=True)
    do(session, "run")
    let_pass(session, 1.0)
    shown = session.frame()
    assert shown["state"] == "TRIP" and shown["faults"] == ("ox_coil_open@2",)
    assert shown["time"]["branches"] == [[1, head]] and shown["time"]["branch"] == 2
    new = everything(session)
    do(session, "branch", number=1)
    arrive(session)
    assert everything(session) == old and session.frame()["faults"] == ()
    do(session, "branch", number=2)
    arrive(session)
    assert everything(session) == new


def test_a_seek_fills_the_charts_back_to_thirty_seconds(session: BenchSession) -> None:
    let_pass(session, 45.0)
    do(session, "seek", tick=8000)
    arrive(session)
    _fresh, rows = session.traces.since(-1, 0)
    ticks = [int(row.lstrip("[").split(",")[0]) for row in rows.split("],[")]
    assert ticks[0] <= 2002 and ticks[-1] >= 7998 and ticks == sorted(ticks)


def test_a_saved_recording_replays_and_ends_where_the_bench_stands(session: BenchSession, tmp_path: Path) -> None:
    do_sortie(session)
    before = everything(session)
    do(session, "save", seconds=600)
    arrive(session)
    assert session.clock.running, "the flight goes on after it has been saved"
    assert everything(session) == before
    whole = read_recording(tmp_path / session.saved)
    assert whole.complete and replay(whole).same
    assert whole.ticks_total == session.flown.tick == session.saved_tick + 1
    assert list(whole.ticks())[-1]["state"] == "RUN"
    assert sorted(path.name for path in tmp_path.iterdir()) == [session.saved]


def test_the_last_seconds_alone_replay_from_a_snapshot(session: BenchSession, tmp_path: Path) -> None:
    do_sortie(session)
    let_pass(session, 6.0)
    do(session, "save", seconds=10)
    arrive(session)
    part = read_recording(tmp_path / session.saved)
    assert part.complete and replay(part).same
    assert 2000 <= part.ticks_total < session.flown.tick
    assert not [line for line in part.lines if line["kind"] == "boot"]


def test_a_hand_that_goes_lets_go_of_the_purge(session: BenchSession) -> None:
    let_pass(session, 1.2)
    do(session, "switch", name="master", on=True)
    let_pass(session, 0.5)
    do(session, "switch", name="purge", on=True)
    let_pass(session, 0.5)
    assert session.frame()["state"] == "PURGING"
    session.leave(HAND + 1)
    let_pass(session, 0.2)
    assert session.frame()["state"] == "PURGING"
    session.leave(HAND)
    let_pass(session, 0.2)
    assert session.frame()["state"] == "WAITING"
    assert session.frame()["controls"]["panel"] & 1, "a maintained switch stays as it was"


def test_time_stands_while_nobody_looks(session: BenchSession) -> None:
    let_pass(session, 0.1)
    tick = session.flown.tick
    session.alone(True)
    for _ in range(20):
        session.advance(0.05)
    assert session.flown.tick == tick and not session.frame()["time"]["running"]


def test_a_deed_sent_during_a_rewind_is_done_on_arrival(session: BenchSession) -> None:
    let_pass(session, 20.0)
    do(session, "seek", tick=3990)
    do(session, "engine", on=True)
    assert not session.frame()["controls"]["engine"]
    arrive(session)
    assert session.frame()["controls"]["engine"] and session.flown.tick == 3990


def test_one_tick_is_one_tick_and_stops_the_clock(session: BenchSession) -> None:
    let_pass(session, 0.5)
    tick = session.flown.tick
    do(session, "step")
    assert session.flown.tick == tick + 1 and not session.frame()["time"]["running"]
    session.advance(0.5)
    assert session.flown.tick == tick + 1


def test_start_over_is_a_new_aircraft(session: BenchSession) -> None:
    do(session, "fault", name="hose_burst", on=True)
    let_pass(session, 2.0)
    do(session, "start_over")
    shown = session.frame()
    assert shown["tick"] == 0 and shown["faults"] == () and shown["time"]["head"] == 0


@pytest.mark.parametrize("temperature_c", BOTTLE_C)
@pytest.mark.parametrize("end", [0, 1])
def test_the_bottle_can_be_turned_to_every_corner_and_flown_on(
    session: BenchSession, temperature_c: float, end: int
) -> None:
    let_pass(session, 0.5)
    do(session, "bottle", temperature_c=temperature_c, fill_kg=session.limits.fill_kg[end])
    let_pass(session, 2.0)
    assert not session.trouble and session.clock.running
    assert session.frame()["plant"]["bottle"]["c"] == pytest.approx(temperature_c, abs=0.5)


def test_altitude_thins_the_engine_and_volts_reach_the_bus(session: BenchSession) -> None:
    do(session, "engine", on=True)
    do(session, "throttle", percent=100)
    let_pass(session, 8.0)
    low = session.frame()["controls"]["rpm"]
    do(session, "altitude", altitude_m=6000)
    do(session, "volts", bus_v=11.0)
    let_pass(session, 8.0)
    shown = session.frame()
    assert shown["controls"]["rpm"] < low - 50 and shown["read"]["bus_v"] == pytest.approx(11.0, abs=0.1)


def test_a_model_out_of_its_range_stops_the_clock_and_says_so(
    session: BenchSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_pass(session, 0.5)

    def break_down() -> None:
        raise ValueError("vessel pressure is 6e+07 Pa, allowed is 0 to 50 MPa")

    monkeypatch.setattr(session.flown.bench.plant, "advance", break_down)
    session.advance(0.1)
    assert not session.clock.running and "vessel pressure" in session.frame()["trouble"]


@pytest.mark.parametrize(
    "message",
    [
        {"do": "dance"},
        {"do": "speed", "factor": 11},
        {"do": "speed", "factor": True},
        {"do": "seek", "tick": -1},
        {"do": "seek", "tick": 1.5},
        {"do": "branch", "number": 9},
        {"do": "save", "seconds": 7},
        {"do": "run", "now": True},
    ],
)
def test_what_cannot_be_done_is_refused(session: BenchSession, message: dict[str, Any]) -> None:
    let_pass(session, 0.1)
    with pytest.raises(MessageError):
        session.take(message, HAND)


def test_the_number_of_snapshots_stays_bounded_and_any_tick_within_reach() -> None:
    history = History()
    for tick in range(0, 4_000_000, 256):
        if history.wants_snapshot(tick):
            history.keep(Snapshot(tick, {}, None))  # type: ignore[arg-type]
        history.reached(tick)
        assert len(history.snapshots) <= SNAPSHOTS_MAX
    assert history.gap_ticks == LONGEST_GAP_TICKS
    assert history.branch.head - history.first_tick > 6000 * 200
    for tick in (history.first_tick, history.branch.head // 2 + history.first_tick // 2, history.branch.head):
        assert 0 <= tick - history.before(tick).tick <= LONGEST_GAP_TICKS


def test_old_deeds_go_with_the_snapshots_that_need_them() -> None:
    history = History()
    history.keep(Snapshot(0, {}, None))  # type: ignore[arg-type]
    for tick in range(256, 120_000, 256):
        history.reached(tick)
        for _ in range(200):
            history.add(tick, Deed("heal", ()))
        if history.wants_snapshot(tick):
            history.keep(Snapshot(tick, {}, None))  # type: ignore[arg-type]
    assert len(history.branch.deeds) <= 50_000
    assert history.branch.deeds[0][0] >= history.first_tick > 0
    assert history.next_deed == len(history.branch.deeds)
