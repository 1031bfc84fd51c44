"""The journal: what makes a record, what is kept, what is counted as lost."""

from struct import unpack

from tests.firmware.desk_bench import FakeBoard, ready_board, running, ticks

from oxlatch.controller import Controller
from oxlatch.journal import (
    EVENT_BOOT,
    EVENT_CAUSE,
    EVENT_INPUT,
    EVENT_STATE,
    RECORD_BYTES,
    RECORD_FORMAT,
    RECORDS,
    Journal,
)
from oxlatch.reasons import SETTINGS_CORRUPT
from oxlatch.rest_work import STORE_JOURNAL_TICKS
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT, REST, SW_MASTER, TRIP, WAITING


def records(journal):
    image = journal.image()
    return [unpack(RECORD_FORMAT, image[at : at + RECORD_BYTES]) for at in range(0, len(image), RECORD_BYTES)]


def test_a_tick_in_which_nothing_changed_makes_no_record():
    loop = running()
    ticks(loop, 20)
    before = loop.journal.seq
    ticks(loop, 200)
    assert loop.journal.seq == before


def test_arming_is_recorded_with_its_input_and_its_state():
    loop = running()
    loop.board.switches |= SW_MASTER
    ticks(loop, 30)
    kinds = [(row[2], row[3]) for row in records(loop.journal)]
    assert any(kind & EVENT_INPUT for kind, _ in kinds)
    assert any(kind & EVENT_STATE and state == WAITING for kind, state in kinds)


def test_the_first_cause_keeps_the_raw_samples_of_its_tick():
    board = FakeBoard()  # nothing in its store: settings corrupt
    loop = running(board)
    assert loop.controller.core.state == TRIP
    row = unpack(RECORD_FORMAT, bytes(loop.journal.first_cause))
    assert row[2] & EVENT_CAUSE
    assert row[1] == next(row[1] for row in records(loop.journal) if row[2] & EVENT_CAUSE)
    assert row[20] == SETTINGS_CORRUPT
    assert list(row[-RAW_COUNT:])[1:] == loop.raw[1:]


def test_a_full_ring_drops_the_oldest_and_counts_what_was_never_stored():
    journal = Journal()
    controller = Controller(Settings())
    for tick in range(RECORDS + 5):
        journal.note(EVENT_BOOT, tick, controller, [0] * RAW_COUNT)
    assert journal.dropped == 5
    assert [row[1] for row in records(journal)] == list(range(5, RECORDS + 5))
    journal.mark_stored()
    journal.note(EVENT_BOOT, 0, controller, [0] * RAW_COUNT)
    assert journal.dropped == 5


def test_the_image_restores_with_its_numbers_going_on():
    journal = Journal()
    controller = Controller(Settings())
    for tick in range(RECORDS + 7):
        journal.note(EVENT_BOOT, tick, controller, [0] * RAW_COUNT)
    again = Journal()
    again.restore(journal.image())
    assert again.image() == journal.image()
    assert again.seq == journal.seq


def test_a_spoilt_image_restores_nothing():
    for image in (b"", b"x" * (RECORD_BYTES - 1), b"x" * (RECORD_BYTES * (RECORDS + 1))):
        journal = Journal()
        journal.restore(image)
        assert journal.seq == 0


def test_the_journal_is_stored_once_after_an_armed_session_and_only_at_rest():
    board = ready_board()
    loop = running(board)
    ticks(loop, STORE_JOURNAL_TICKS + 10)
    assert "journal.0" not in board.backend, "nothing happened, nothing is worn"
    board.switches |= SW_MASTER
    ticks(loop, 3 * STORE_JOURNAL_TICKS)
    assert loop.controller.core.state == WAITING
    assert "journal.0" not in board.backend
    board.switches &= ~SW_MASTER
    ticks(loop, STORE_JOURNAL_TICKS - 10)
    assert loop.controller.core.state == REST
    assert "journal.0" not in board.backend
    ticks(loop, 400)
    stored = dict(board.backend)
    assert board.store.journal.load() == loop.journal.image()
    ticks(loop, 1000)
    assert dict(board.backend) == stored


def test_the_stored_journal_is_back_after_a_reset_with_a_boot_record_behind_it():
    board = ready_board()
    loop = running(board)
    board.switches |= SW_MASTER
    ticks(loop, 100)
    board.switches &= ~SW_MASTER
    ticks(loop, 800)
    stored = records(loop.journal)
    after = records(running(FakeBoard(board.backend)).journal)
    assert after[: len(stored)] == stored
    assert after[len(stored)][2] == EVENT_BOOT
    assert after[len(stored)][0] == stored[-1][0] + 1
