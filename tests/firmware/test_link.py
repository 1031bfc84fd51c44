"""The link: what it answers, what it refuses, and that no byte on it can disturb a tick."""

import random
from struct import pack, unpack

import pytest
from cobs import cobs
from tests.firmware.desk_bench import FakeBoard, answers, ask, frame, ready_board, record, running, ticks

from oxlatch import protocol as p
from oxlatch import vocabulary
from oxlatch.journal import RECORD_BYTES as JOURNAL_BYTES
from oxlatch.link import REPORTS, SESSION_TICKS
from oxlatch.settings import RECORD_BYTES, Settings
from oxlatch.settings import pack as pack_settings
from oxlatch.startup import not_fitted
from oxlatch.store import Store
from oxlatch.vocabulary import (
    FIT_ALL,
    FIT_PROOF,
    FIT_RAIL,
    FIT_VENT_DOWN,
    RAW_COUNT,
    REST,
    RUN,
    SERVICE,
    STATE_NAMES,
    SW_INJECT,
    SW_MASTER,
    WAITING,
    WAKE,
)

FITTED_BITS = {
    name.removeprefix("FIT_"): bit
    for name, bit in vars(vocabulary).items()
    if name.startswith("FIT_") and bit.bit_count() == 1
}


def refusal(answer):
    kind, body = answer
    assert kind == p.REFUSED
    return body[0], body[1]


def read_all(loop, which):
    """A whole text or record, part by part."""
    got = b""
    while True:
        kind, body = ask(loop, p.READ, pack("<BBH", which, 0, len(got)))
        assert kind == p.READ | p.REPLY
        told, _, total, offset = unpack("<BBHH", body[:6])
        assert (told, offset) == (which, len(got))
        got += body[6:]
        if len(got) == total:
            return got


def test_hello_is_answered_with_its_own_sequence_number():
    loop = running()
    assert ask(loop, p.HELLO, seq=513) == (p.HELLO | p.REPLY, b"")


def test_identity_lists_what_is_not_fitted():
    settings = Settings()
    settings.fitted = FIT_ALL & ~(FIT_PROOF | FIT_RAIL | FIT_VENT_DOWN)
    board = ready_board()
    assert board.store.settings.save(record(settings))
    text = read_all(running(board), p.READ_IDENTITY).decode()
    assert "not_fitted=PROOF,RAIL,VENT_DOWN" in text.split("\n")
    assert "board=fake" in text.split("\n")
    assert "files=absent" in text.split("\n")


@pytest.mark.parametrize("name", sorted(FITTED_BITS))
def test_each_flag_taken_away_is_named_in_the_start_up_record_and_no_other(name):
    settings = Settings()
    settings.fitted = FIT_ALL & ~FITTED_BITS[name]
    assert not_fitted(settings) == [name]


def test_the_settings_record_reads_back_byte_for_byte():
    assert read_all(running(), p.READ_SETTINGS) == record()


def test_telemetry_streams_at_the_period_asked_for_and_ends_with_the_session():
    loop = running()
    ask(loop, p.STREAM, pack("<H", 50))
    ticks(loop, 300)
    frames = [body for kind, _, body in answers(loop.board) if kind == p.TELEMETRY]
    assert 4 <= len(frames) <= 6
    told = unpack(p.TELEMETRY_FORMAT, frames[-1])
    assert told[1] == loop.controller.core.state
    assert list(told[-RAW_COUNT:]) == loop.raw
    ticks(loop, SESSION_TICKS)
    answers(loop.board)
    ticks(loop, 500)
    assert answers(loop.board) == []


def test_journal_records_come_in_order_and_stop_at_the_newest():
    loop = running()
    first, got = 0, []
    while True:
        _kind, body = ask(loop, p.JOURNAL, pack("<I", first))
        start, newest, _dropped, count = unpack("<IIIB", body[:13])
        got += [body[13 + i * JOURNAL_BYTES : 13 + (i + 1) * JOURNAL_BYTES] for i in range(count)]
        first = start + count
        if first >= newest:
            break
    assert [unpack("<I", one[:4])[0] for one in got] == list(range(loop.journal.seq))
    assert len(got) >= 2


def put(loop, data, step=p.PUT_MAX):
    for at in range(0, len(data), step):
        assert ask(loop, p.PUT_SETTINGS, pack("<H", at) + data[at : at + step])[0] == p.PUT_SETTINGS | p.REPLY


def test_settings_are_written_at_rest_and_found_after_a_reset():
    loop = running()
    settings = Settings()
    settings.lead_ticks = 9
    put(loop, record(settings))
    assert ask(loop, p.KEEP_SETTINGS)[0] == p.KEEP_SETTINGS | p.REPLY
    board = FakeBoard(loop.board.backend)
    assert running(board).controller.settings.lead_ticks == 9


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda b: b[:-1] + bytes((b[-1] ^ 1,)), p.SETTINGS_REFUSED_CRC),
        (lambda b: b[:3] + b"\x63" + b[4:], p.SETTINGS_REFUSED_VERSION),
    ],
)
def test_a_spoilt_settings_record_is_refused_and_the_old_one_stays(spoil, code):
    loop = running()
    put(loop, spoil(record()))
    assert refusal(ask(loop, p.KEEP_SETTINGS)) == (p.KEEP_SETTINGS, code)
    assert Store(loop.board.backend).settings.load() == record()


def test_settings_out_of_bounds_are_refused():
    loop = running()
    settings = Settings()
    settings.lead_ticks = 99
    data = bytearray(RECORD_BYTES)
    pack_settings(settings, data)
    put(loop, bytes(data))
    assert refusal(ask(loop, p.KEEP_SETTINGS)) == (p.KEEP_SETTINGS, p.SETTINGS_REFUSED_BOUNDS)


WRITES = (
    (p.PUT_SETTINGS, pack("<H", 0) + b"x"),
    (p.KEEP_SETTINGS, b""),
    (p.RESTART, b"\0"),
    (p.RESTART, b"\1"),
)


@pytest.mark.parametrize(("kind", "payload"), WRITES)
def test_everything_that_writes_is_refused_outside_rest_and_service(kind, payload):
    loop = running()
    loop.board.switches |= SW_MASTER
    ticks(loop, 50)
    assert loop.controller.core.state == WAITING
    before = dict(loop.board.backend)
    assert refusal(ask(loop, kind, payload)) == (kind, p.NOT_AT_REST)
    assert dict(loop.board.backend) == before
    assert loop.rest_work.leave == 0


def test_every_state_but_rest_and_service_refuses_to_write():
    loop = running()
    for state in range(len(STATE_NAMES)):
        loop.controller.core.state = state
        link = loop.link
        link.quiet_n = 0
        got = link._handle_write(p.KEEP_SETTINGS, bytes((p.VERSION, p.KEEP_SETTINGS, 0, 0)), 4)
        assert (got == 0) == (STATE_NAMES[state] in ("REST", "SERVICE"))
        link.wish = 0


@pytest.mark.parametrize("kind", [p.LOAD_STATE, p.BEGIN, p.STEP, 0x3F])
def test_without_the_strap_no_frame_touches_a_raw_sample(kind):
    loop = running()
    quiet = running()
    for payload in (b"", b"\x01", b"\xff\x3f" + b"\xff" * 28, b"\0\0" + b"\1\0\0\0" * 8):
        assert refusal(ask(loop, kind, payload)) == (kind, p.NO_STRAP)
    ticks(quiet, loop.timing.tick - quiet.timing.tick)
    assert loop.raw == quiet.raw
    assert loop.link.steps == 0
    assert loop.link.wish == 0
    assert not loop.injecting()


def test_a_strap_fitted_after_start_up_counts_for_nothing():
    loop = running()
    loop.board.switches |= SW_INJECT
    ticks(loop, 500)
    assert refusal(ask(loop, p.BEGIN, b"\1")) == (p.BEGIN, p.NO_STRAP)


@pytest.mark.parametrize("mode", [p.INJECT_STEPPED, p.INJECT_LIVE])
def test_the_loop_itself_takes_no_injected_sample_without_the_strap(mode):
    """Were the link to be talked into injecting, the loop would still sample the pins."""
    loop = running()
    loop.link.inject = mode
    loop.link.steps = 4
    loop.link._queue[4][5] = 4321
    ticks(loop, 5)
    assert not loop.injecting()
    assert loop.raw[5] == 0
    assert loop.raw[10] == 12600


def test_stepped_injection_runs_one_tick_per_frame_and_reports_it():
    loop = running(strap=SW_INJECT)
    assert ask(loop, p.BEGIN, bytes((p.INJECT_STEPPED, 0)))[0] == p.BEGIN | p.REPLY
    answers(loop.board)
    for n in range(5):
        loop.board.inbox += frame(p.STEP, pack("<IHH", 1 << 5 | 1 << 10, 2500 + n, 12600), seq=n)
    for _ in range(5):
        ticks(loop, 1)
    assert loop.timing.tick == 5
    assert loop.raw[5] == 2504
    for _ in range(100):
        loop.link.poll()
    reports = [unpack(p.REPORT_FORMAT, body) for kind, _, body in answers(loop.board) if kind == p.REPORT]
    assert [told[0] for told in reports] == [0, 1, 2, 3, 4]


def test_a_lost_step_is_noticed():
    loop = running(strap=SW_INJECT)
    ask(loop, p.BEGIN, bytes((p.INJECT_STEPPED, 0)))
    loop.board.inbox += frame(p.STEP, b"\0\0\0\0", seq=1) + frame(p.STEP, b"\0\0\0\0", seq=0)
    ticks(loop, 1)
    for _ in range(50):
        loop.link.poll()
    told = [body for kind, _, body in answers(loop.board) if kind == p.REFUSED]
    assert told == [bytes((p.STEP, p.OUT_OF_STEP))]
    assert loop.timing.tick == 1


def test_live_injection_counts_a_missing_frame_as_every_input_lost():
    loop = running(strap=SW_INJECT)
    ask(loop, p.BEGIN, bytes((p.INJECT_LIVE, 0)))
    for n in range(4):
        loop.board.inbox += frame(p.STEP, pack("<IHH", 1 << 5 | 1 << 1, 7, 2500), seq=n)
    ticks(loop, 4)
    assert (loop.raw[1], loop.raw[5]) == (7, 2500)
    ticks(loop, 1)
    assert loop.link.missed == 1
    assert loop.raw == [1, 0, 0, 0, 0, 0, 10000] + [0] * (RAW_COUNT - 7)


def test_going_back_to_the_pins_starts_from_wake_with_outputs_off():
    loop = running(strap=SW_INJECT)
    ask(loop, p.BEGIN, bytes((p.INJECT_STEPPED, 0)))
    loop.controller.core.state = RUN
    loop.board.calls.clear()
    loop.board.inbox += frame(p.BEGIN, bytes((p.INJECT_NONE, 0)))
    ticks(loop, 2)
    assert "off" in loop.board.calls
    ticks(loop, 300)
    assert loop.controller.core.state == REST
    assert not loop.injecting()


def test_an_injected_flight_may_use_other_settings_that_are_never_kept():
    loop = running(strap=SW_INJECT)
    settings = Settings()
    settings.lead_ticks = 9
    put(loop, record(settings))
    assert ask(loop, p.BEGIN, bytes((p.INJECT_STEPPED, 1)))[0] == p.BEGIN | p.REPLY
    assert loop.controller.settings.lead_ticks == 9
    assert ask(loop, p.BEGIN, bytes((p.INJECT_NONE, 0)))[0] == p.BEGIN | p.REPLY
    assert loop.controller.settings.lead_ticks == Settings().lead_ticks
    assert Store(loop.board.backend).settings.load() == record()


def test_an_injected_flight_with_spoilt_settings_does_not_begin():
    loop = running(strap=SW_INJECT)
    assert refusal(ask(loop, p.BEGIN, bytes((p.INJECT_STEPPED, 1)))) == (p.BEGIN, p.BAD_VALUE)
    assert not loop.injecting()


LENGTHS = [
    (kind, size)
    for kind in (*range(0x10, 0x14), *range(0x20, 0x24), *range(0x30, 0x33))
    for size in (0, 1, 3, 200, 240)
]


@pytest.mark.parametrize(("kind", "size"), LENGTHS)
def test_a_wrong_length_is_refused_or_answered_never_half_taken(kind, size):
    loop = running(strap=SW_INJECT)
    got, body = ask(loop, kind, b"\xff" * size) if kind != p.STEP else (p.REFUSED, bytes((kind, 1)))
    if got == p.REFUSED:
        assert body[0] == kind
        assert 0 < body[1] < len(p.REFUSALS)
    assert loop.controller.settings.lead_ticks == Settings().lead_ticks


def test_a_frame_of_another_version_is_counted_and_not_answered():
    loop = running()
    loop.board.inbox += frame(p.HELLO, version=1)
    ticks(loop, 30)
    assert answers(loop.board) == []
    assert loop.link.broken == 1


def test_a_host_that_never_reads_costs_frames_not_ticks():
    loop = running()
    ask(loop, p.STREAM, pack("<H", 4))
    loop.board.takes = 100
    for n in range(SESSION_TICKS * 2):
        if n % 100 == 0:
            loop.board.inbox += frame(p.HELLO, seq=n)
        ticks(loop, 1)
    assert loop.timing.late == 0
    loop.board.takes = 1 << 30
    loop.board.inbox.clear()
    ticks(loop, 100)
    assert loop.link.dropped >= 1
    answers(loop.board, torn=1)
    assert ask(loop, p.HELLO, seq=9)[0] == p.HELLO | p.REPLY


def test_a_host_that_floods_still_gets_telemetry_and_a_stream_does_not_starve_requests():
    loop = running()
    ask(loop, p.STREAM, pack("<H", 1))
    for n in range(600):
        if len(loop.board.inbox) < 200:
            loop.board.inbox += b"\x05junk\0" * 30 + frame(p.HELLO, seq=n)
        ticks(loop, 1)
    kinds = [kind for kind, _, _ in answers(loop.board)]
    assert kinds.count(p.TELEMETRY) >= 10
    assert kinds.count(p.HELLO | p.REPLY) >= 5
    assert loop.timing.late == 0


def test_one_poll_moves_no_more_than_its_budget():
    loop = running()
    board = loop.board
    board.inbox += frame(p.READ, pack("<BBH", p.READ_SETTINGS, 0, 0))
    for _ in range(60):
        before = len(board.outbox)
        taken = loop.link._decoder.length
        loop.link.poll()
        assert len(board.outbox) - before <= loop.link.budget
        assert abs(loop.link._decoder.length - taken) <= loop.link.budget


def mutate(rng, wire):
    """A frame as a bad line would deliver it."""
    data = bytearray(wire)
    for _ in range(rng.randint(1, 4)):
        way = rng.randrange(4)
        at = rng.randrange(len(data)) if data else 0
        if way == 0 and data:
            data[at] ^= 1 << rng.randrange(8)
        elif way == 1 and data:
            del data[at]
        elif way == 2:
            data.insert(at, rng.randrange(256))
        elif data:
            data = data[:at]
    return bytes(data)


def accepts(wires):
    """What the same bytes mean to general libraries: how many whole frames of this version."""
    found = 0
    for wire in wires.split(b"\0"):
        try:
            body = cobs.decode(wire)
        except cobs.DecodeError:
            continue
        if len(body) >= p.FRAME_MIN and len(body) <= p.FRAME_MAX and _crc_good(body) and body[0] == p.VERSION:
            found += 1
    return found


def _crc_good(body):
    from zlib import crc32

    return crc32(body[:-4]) == int.from_bytes(body[-4:], "little")


def test_mutated_frames_are_accepted_exactly_when_general_libraries_accept_them():
    rng = random.Random(5)
    loop = running(strap=SW_INJECT)
    handled = []
    loop.link._handle = lambda got, end: handled.append(bytes(got[:end])) if got[0] == p.VERSION else None
    kinds = list(range(0x10, 0x40))
    wires = bytearray()
    for _ in range(3000):
        wire = frame(rng.choice(kinds), rng.randbytes(rng.randrange(12)), rng.randrange(65536))
        wires += wire if rng.random() < 0.2 else mutate(rng, wire) + b"\0"
    loop.board.inbox += wires
    loop.link.budget = 64
    while loop.board.inbox or loop.link._chunk_at < loop.link._chunk_end or loop.link._held:
        loop.link.poll()
    assert len(handled) == accepts(bytes(wires))
    assert len(handled) > 500
    assert loop.link.broken > 1000


def test_a_report_being_sent_is_not_overwritten_by_those_behind_it():
    loop = running(strap=SW_INJECT)
    link = loop.link
    link.quiet_n = 0
    told, tick = [], 0
    for _ in range(400):
        while not link.reports_full():
            link.report(tick)
            tick += 1
        link.poll()
    told = [unpack("<I", body[:4])[0] for kind, _, body in answers(loop.board) if kind == p.REPORT]
    assert told == list(range(len(told)))
    assert len(told) > 20


def test_reports_that_find_no_room_are_counted():
    loop = running(strap=SW_INJECT)
    for n in range(REPORTS + 3):
        loop.link.report(n)
    assert loop.link.reports == REPORTS
    assert loop.link.dropped == 3


def test_service_asked_for_at_rest_is_granted_only_after_the_engine_has_stood_still():
    loop = running()
    settings = loop.controller.settings
    begun = loop.timing.tick
    assert ask(loop, p.ASK_SERVICE, bytes((p.SERVICE_ENTER,)))[0] == p.ASK_SERVICE | p.REPLY
    while loop.controller.core.state != SERVICE:
        loop.board.inbox += frame(p.HELLO)
        ticks(loop, 50)
        assert loop.timing.tick - begun < 2 * settings.rpm_stopped_ticks
    assert loop.timing.tick >= settings.rpm_stopped_ticks
    assert ask(loop, p.ASK_SERVICE, bytes((p.SERVICE_LEAVE,)))[0] == p.ASK_SERVICE | p.REPLY
    ticks(loop, 10)
    assert loop.controller.core.state == WAKE
