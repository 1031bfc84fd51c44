"""The fixed tick: time, overrun, who may kick and feed, and outputs off whatever happens."""

import pytest
from tests.firmware.desk_bench import FakeBoard, WaitsForHost, ask, frame, ready_board, record, running, ticks

from oxlatch import protocol
from oxlatch.journal import EVENT_INJECTED, RECORD_BYTES
from oxlatch.loop import CLOCK_MASK, TICK_US, Loop, elapsed_ticks
from oxlatch.reasons import SETTINGS_CORRUPT
from oxlatch.rest_work import LEAVE_MAINTENANCE, LEAVE_RESTART
from oxlatch.settings import FIELDS, Settings
from oxlatch.startup import build
from oxlatch.store import Store
from oxlatch.vocabulary import (
    FIT_LOCKOUT_MEMORY,
    FIT_MASTER_OX,
    OUT_RUN,
    RAW_ELAPSED,
    REST,
    SW_INJECT,
    SW_MASTER,
    TRIP,
    WAITING,
)


def asks_run(loop):
    """Let every tick of this loop drive RUN."""
    tick = loop.controller.tick

    def with_run(raw):
        tick(raw)
        loop.controller.out.bits |= OUT_RUN

    loop.controller.tick = with_run


def test_elapsed_counts_whole_ticks_and_forgives_three_milliseconds():
    expected = {0: 1, 5000: 1, 7999: 1, 8000: 2, 9999: 2, 14999: 2, 15000: 3, 19999: 3, 20000: 4, 1000000: 200}
    assert {gone: elapsed_ticks(gone) for gone in expected} == expected


def test_ticks_are_five_milliseconds_apart_however_long_each_takes():
    loop = running()
    loop.restart_clock()
    begun = loop.board.now_us
    for work_us in (100, 4000, 900, 2000, 100):
        loop.board.work_us = work_us
        ticks(loop, 1)
    assert loop.board.now_us - begun == 5 * TICK_US + 100
    assert loop.timing.late == 0


def test_the_clock_wraps_without_a_late_tick():
    loop = running()
    loop.board.now_us = CLOCK_MASK - 12000
    loop.restart_clock()
    ticks(loop, 10)
    assert loop.board.now_us > CLOCK_MASK
    assert loop.timing.late == 0


def test_an_overrun_is_told_in_the_next_sample_and_neither_kicks_nor_feeds():
    loop = running()
    asks_run(loop)
    board = loop.board
    ticks(loop, 1)
    board.calls.clear()
    board.work_us = 9000
    ticks(loop, 1)
    assert "kick" not in board.calls
    assert "feed" not in board.calls
    board.work_us = 100
    ticks(loop, 1)
    assert loop.raw[RAW_ELAPSED] == 2
    assert "kick" not in board.calls
    assert loop.timing.late == 1
    ticks(loop, 1)
    assert loop.raw[RAW_ELAPSED] == 1
    assert board.calls.count("kick") == 1


def test_missed_ticks_are_not_made_up_for():
    loop = running()
    loop.board.work_us = 23000
    ticks(loop, 1)
    loop.board.work_us = 100
    at = loop.board.now_us
    ticks(loop, 4)
    assert 3 * TICK_US <= loop.board.now_us - at <= 4 * TICK_US


def test_the_run_switch_is_kicked_once_per_good_tick_and_only_while_asked():
    loop = running()
    loop.board.calls.clear()
    ticks(loop, 10)
    assert "kick" not in loop.board.calls
    asks_run(loop)
    loop.board.calls.clear()
    ticks(loop, 10)
    assert loop.board.calls.count("kick") == 10
    assert loop.board.calls.index("drive") < loop.board.calls.index("kick")


@pytest.mark.parametrize("where", ["sample", "drive", "lamps", "link_read"])
def test_outputs_are_off_when_anything_in_the_tick_raises(where):
    loop = running()

    def broken(*_):
        loop.board.ox = loop.board.fuel = 15
        raise RuntimeError

    setattr(loop.board, where, broken)
    with pytest.raises(RuntimeError):
        loop.run()
    assert (loop.board.ox, loop.board.fuel, loop.board.bits) == (0, 0, 0)
    assert loop.board.calls[-1] == "off"


def test_a_keyboard_interrupt_ends_with_outputs_off():
    loop = running()

    def interrupted(_):
        raise KeyboardInterrupt

    loop.board.idle = interrupted
    with pytest.raises(KeyboardInterrupt):
        loop.run()
    assert loop.board.calls[-1] == "off"


@pytest.mark.parametrize(("mode", "leave"), [(0, LEAVE_RESTART), (1, LEAVE_MAINTENANCE)])
def test_a_restart_asked_for_at_rest_is_answered_then_done(mode, leave):
    loop = running()
    loop.board.inbox += frame(protocol.RESTART, bytes((mode,)), 3)
    assert loop.run() == leave
    assert loop.board.outbox.endswith(frame(protocol.RESTART | protocol.REPLY, b"", 3))
    assert loop.board.calls[-1] == "off"


def test_the_keyboard_interrupt_counts_only_at_rest_with_no_host_on_the_line():
    loop = running()
    board = loop.board
    assert [c for c in board.calls if "interruptible" in c][-1] == "interruptible"
    board.inbox += frame(protocol.HELLO)
    ticks(loop, 5)
    assert [c for c in board.calls if "interruptible" in c][-1] == "not interruptible"
    ticks(loop, 410)
    assert [c for c in board.calls if "interruptible" in c][-1] == "interruptible"
    board.switches |= SW_MASTER
    ticks(loop, 20)
    assert [c for c in board.calls if "interruptible" in c][-1] == "not interruptible"


def without_memory(more=0):
    settings = Settings()
    settings.fitted = settings.fitted & ~FIT_LOCKOUT_MEMORY | more
    board = ready_board()
    assert board.store.settings.save(record(settings))
    return board


@pytest.mark.parametrize("fitted", [0, FIT_MASTER_OX])
def test_without_a_lockout_memory_arming_leaves_a_marker_and_disarming_takes_it_away(fitted):
    """Also where the master oxidizer valve is open all the time the controller is armed."""
    board = without_memory(fitted)
    loop = running(board)
    board.switches |= SW_MASTER
    ticks(loop, 20)
    assert loop.controller.core.state == WAITING
    assert board.lockout_read() == 1
    lost = running(FakeBoard(board.backend))
    assert lost.controller.core.state == TRIP
    assert lost.controller.core.latch == 3
    board.store.lockout.save(b"\1")
    board.switches &= ~SW_MASTER
    ticks(loop, 20)
    assert loop.controller.core.state == REST
    assert board.lockout_read() == 0


def test_without_a_lockout_memory_nothing_is_written_while_an_output_is_on():
    board = without_memory()
    loop = running(board)
    asks_run(loop)
    ticks(loop, 1)
    board.calls.clear()
    loop.controller.core.store = 3
    ticks(loop, 20)
    assert not [call for call in board.calls if isinstance(call, tuple)]
    del loop.controller.tick
    ticks(loop, 2)
    assert ("lockout", 3) in board.calls


def test_with_a_lockout_memory_the_word_is_written_in_the_tick_that_changed_it():
    loop = running()
    asks_run(loop)
    ticks(loop, 1)
    loop.board.calls.clear()
    loop.controller.core.store = 3
    ticks(loop, 1)
    assert loop.board.calls.index(("lockout", 3)) > loop.board.calls.index("drive")


@pytest.mark.parametrize("word", [1, 3, 4])
def test_a_lockout_found_at_start_up_is_never_lowered_by_starting_up(word):
    board = ready_board()
    board.store.lockout.save(bytes((word,)))
    loop = build(board)
    loop.restart_clock()
    for _ in range(400):
        ticks(loop, 1)
        assert Store(board.backend).lockout.load()[0] >= word
    assert loop.controller.core.state == TRIP


def test_an_injected_flight_leaves_the_lockout_memory_alone_and_stores_its_records_marked():
    board = ready_board()
    loop = running(board, strap=SW_INJECT)
    stored = dict(board.backend)
    ask(loop, protocol.BEGIN, bytes((protocol.INJECT_LIVE, 0)))
    board.inbox += b"".join(frame(protocol.STEP, b"\0\0", seq=n) for n in range(4))
    ticks(loop, 1)
    loop.controller.core.store = 4
    loop.journal.worth_storing = 1
    ticks(loop, 2)
    assert not loop.rest_work.wanted()
    assert dict(board.backend) == stored
    ask(loop, protocol.BEGIN, bytes((protocol.INJECT_NONE, 0)))
    assert board.lockout_read() == 0
    records = board.store.journal.load()
    assert records == loop.journal.image()[: len(records)]
    assert records[-RECORD_BYTES:][8] & EVENT_INJECTED
    ticks(loop, 1000)
    assert board.lockout_read() == 0
    assert not loop.journal.image()[-RECORD_BYTES:][8] & EVENT_INJECTED


def test_the_strap_alone_does_not_keep_a_lockout_from_being_written():
    loop = running(strap=SW_INJECT)
    loop.controller.core.store = 3
    ticks(loop, 2)
    assert loop.board.lockout_read() == 3


def test_a_pause_is_no_late_tick():
    loop = running()
    save = loop.store_save = loop.rest_work.store.settings.save

    def slow(payload):
        loop.board.now_us += 300_000
        return save(payload)

    loop.rest_work.store.settings.save = slow
    loop.link.staged[:] = record()
    loop.board.inbox += frame(protocol.KEEP_SETTINGS)
    begun = loop.board.now_us
    ticks(loop, 10)
    assert loop.board.now_us - begun > 300_000
    assert loop.timing.late == 0
    assert loop.timing.pauses >= 1


def test_a_tick_short_of_time_leaves_the_link_to_the_next():
    loop = running()
    polls = []
    loop.link.poll = lambda: polls.append(loop.board.work_us)
    loop.board.work_us = 4500
    ticks(loop, 3)
    assert polls == []
    loop.board.work_us = 100
    ticks(loop, 2)
    assert polls


def test_the_strap_is_latched_once():
    loop = running()
    assert isinstance(loop, Loop)
    loop.controller.core.inject = 2
    ticks(loop, 5)
    assert loop.strap == 1
    assert loop.link.strap == 0


def test_a_setting_that_changes_in_memory_trips_within_one_round_of_the_fields():
    loop = running()
    loop.controller.settings.lead_ticks += 1
    ticks(loop, len(FIELDS) + 3)
    assert loop.controller.core.state == TRIP
    assert loop.controller.core.cause1 == SETTINGS_CORRUPT


def test_without_good_settings_there_is_nothing_to_watch():
    assert build(FakeBoard()).settings_watch is None


class Waiting(FakeBoard):
    """A bench whose clock runs while it waits for samples."""

    def idle(self, left_us):
        self.now_us += left_us or 20_000
        if not left_us:
            self.waits += 1
            if self.waits > 40:
                raise WaitsForHost

    waits = 0


def test_outputs_go_off_when_the_samples_of_a_stepped_bench_stop_coming():
    """A cable pulled while valves are commanded: time stands still, and everything is off within half a second."""
    board = Waiting(ready_board().backend)
    loop = running(board, strap=SW_INJECT)
    board.waits = 0
    ask(loop, protocol.BEGIN, bytes((protocol.INJECT_STEPPED, 0)))
    board.drive(3, 1, OUT_RUN)
    board.waits = 0
    with pytest.raises(WaitsForHost):
        loop.wait()
    assert (board.ox, board.fuel, board.bits) == (0, 0, 0)


def test_a_short_wait_for_a_sample_leaves_the_outputs_as_they_are():
    board = Waiting(ready_board().backend)
    loop = running(board, strap=SW_INJECT)
    ask(loop, protocol.BEGIN, bytes((protocol.INJECT_STEPPED, 0)))
    board.drive(3, 1, OUT_RUN)
    board.waits = 35
    with pytest.raises(WaitsForHost):
        loop.wait()
    assert (board.ox, board.fuel, board.bits) == (3, 1, OUT_RUN)
