"""The bottle's content over resets: found again, brought up at rest, unknown rather than wrong after a power cut."""

from contextlib import suppress

import pytest
from tests.firmware.desk_bench import FakeBoard, PowerCut, ready_board, record, running, ticks

from oxlatch import protocol
from oxlatch.core import STORE_ARMED, STORE_NOTHING
from oxlatch.settings import Settings
from oxlatch.stock import GRAM_SHIFT
from oxlatch.store import Store
from oxlatch.vocabulary import (
    BOOT_LOST_ARMED,
    FIT_BUDGET,
    FIT_LOCKOUT_MEMORY,
    RAW_BOOT,
    RAW_BOTTLE_G,
    REST,
    SW_INJECT,
    SW_MASTER,
    TRIP,
    WAITING,
)

FULL = 4000
LEFT = 2500


def counting_board(grams=FULL, fitted=FIT_BUDGET, without=0, lockout=STORE_NOTHING):
    """A board whose bottle is counted, with that much in its store."""
    settings = Settings()
    settings.fitted = (settings.fitted | fitted) & ~without
    board = ready_board()
    assert board.store.settings.save(record(settings))
    assert board.store.lockout.save(bytes((lockout,)))
    if grams is not None:
        assert board.store.bottle.save(bytes((grams & 255, grams >> 8)))
    return FakeBoard(board.backend)


def stored(board):
    payload = Store(board.backend).bottle.load()
    return None if payload is None else payload[0] | payload[1] << 8


def session(board):
    """Armed, oxidizer used, disarmed: the next pause brings the store up."""
    loop = running(board)
    board.switches |= SW_MASTER
    ticks(loop, 50)
    assert loop.controller.core.state == WAITING
    loop.controller.core.budget = LEFT << GRAM_SHIFT | 1023
    board.switches &= ~SW_MASTER
    ticks(loop, 150)
    assert loop.controller.core.state == REST
    return loop


def test_what_the_store_remembers_is_what_the_controller_begins_with():
    loop = running(counting_board())
    assert loop.raw[RAW_BOTTLE_G] == FULL
    assert loop.controller.core.budget == FULL << GRAM_SHIFT


def test_a_store_that_cannot_be_read_is_an_empty_bottle():
    for grams, spoil in ((None, False), (FULL, True)):
        board = counting_board(grams)
        if spoil:
            board.backend["bottle.0"] = board.backend["bottle.1"] = b"rotten"
        loop = running(FakeBoard(board.backend))
        assert loop.raw[RAW_BOTTLE_G] == loop.controller.core.budget == 0


def test_what_was_used_is_stored_once_at_rest_and_never_rounded_up():
    board = counting_board()
    loop = session(board)
    assert stored(board) == LEFT
    ticks(loop, 400)  # the journal is stored meanwhile
    before = dict(board.backend)
    ticks(loop, 300)
    assert dict(board.backend) == before, "nothing changes, nothing is worn"
    assert running(FakeBoard(board.backend)).controller.core.budget == LEFT << GRAM_SHIFT


def test_a_refill_entered_at_rest_is_stored_at_rest():
    board = counting_board(LEFT)
    loop = running(board)
    loop.controller.core.budget = FULL << GRAM_SHIFT
    ticks(loop, 2)
    assert stored(board) == FULL


def test_nothing_is_stored_while_armed():
    board = counting_board()
    loop = running(board)
    board.switches |= SW_MASTER
    ticks(loop, 50)
    loop.controller.core.budget = LEFT << GRAM_SHIFT
    ticks(loop, 200)
    assert loop.controller.core.state == WAITING
    assert stored(board) == FULL


def test_the_armed_marker_makes_the_count_unknown_and_with_its_own_memory_is_no_fault():
    loop = running(counting_board(lockout=STORE_ARMED))
    assert loop.raw[RAW_BOTTLE_G] == 0
    assert not loop.raw[RAW_BOOT] & BOOT_LOST_ARMED
    assert loop.controller.core.state == REST


def test_without_its_own_memory_power_lost_armed_trips_as_ever_and_the_count_is_unknown():
    loop = running(counting_board(without=FIT_LOCKOUT_MEMORY, lockout=STORE_ARMED))
    assert loop.raw[RAW_BOOT] & BOOT_LOST_ARMED
    assert loop.raw[RAW_BOTTLE_G] == 0
    assert loop.controller.core.state == TRIP


@pytest.mark.parametrize("lockout", [3, 4])
def test_power_lost_in_a_lockout_leaves_the_count_unknown(lockout):
    assert running(counting_board(lockout=lockout)).raw[RAW_BOTTLE_G] == 0


@pytest.mark.parametrize("without", [0, FIT_LOCKOUT_MEMORY])
def test_power_cut_at_every_byte_of_a_session_leaves_what_is_there_or_nothing_never_more(without):
    seen = set()
    for cut in range(200):
        board = counting_board(without=without)
        board.backend.cut_at = cut
        with suppress(PowerCut):
            session(board)
        board.backend.cut_at = None
        armed = Store(board.backend).lockout.load() == bytes((STORE_ARMED,))
        found = running(FakeBoard(board.backend)).raw[RAW_BOTTLE_G]
        assert found in (0, LEFT) or (found == FULL and not armed and cut < 30), cut
        seen.add(found)
    assert seen == {0, LEFT, FULL}


def test_a_store_that_fails_leaves_the_marker_so_that_the_count_is_unknown_later():
    board = counting_board()
    write = board.backend.write
    board.backend.write = lambda name, data: None if name.startswith("bottle") else write(name, data)
    loop = session(board)
    assert loop.rest_work.bottle_failed
    assert Store(board.backend).lockout.load() == bytes((STORE_ARMED,))
    pauses = loop.timing.pauses
    ticks(loop, 200)
    assert loop.timing.pauses == pauses, "a failing store is not tried again and again"
    assert running(FakeBoard(board.backend)).raw[RAW_BOTTLE_G] == 0


def test_an_injected_flight_leaves_the_store_alone():
    board = counting_board()
    board.switches |= SW_INJECT
    loop = running(board)
    loop.link.inject = protocol.INJECT_STEPPED
    loop.controller.core.budget = 0
    loop.controller.core.state = REST
    assert not loop.rest_work.bottle_due()
    loop.link.inject = protocol.INJECT_NONE
    assert loop.rest_work.bottle_due()


def test_where_the_bottle_is_not_counted_no_store_is_made():
    board = counting_board(grams=None, fitted=0)
    loop = running(board)
    loop.controller.core.budget = LEFT << GRAM_SHIFT
    ticks(loop, 100)
    assert loop.raw[RAW_BOTTLE_G] == 0
    assert not [name for name in board.backend if name.startswith("bottle")]
