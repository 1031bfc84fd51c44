"""The board file on a chip that logs every pin: order of writes, levels through reset, lost frames."""

import itertools

import pytest
from tests.firmware.fake_machine import Chip, load_board

from oxlatch.boards import rp2_pins
from oxlatch.boards.rp2_pins import pin
from oxlatch.boards.rp2_scales import THERMISTOR_DK, THERMOCOUPLE_DK, from_table
from oxlatch.store import UNREADABLE
from oxlatch.vocabulary import (
    COIL_MASTER_FUEL,
    COIL_MASTER_OX,
    COIL_PURGE,
    EX_FIRE,
    EX_KNOCK,
    LAMP_BLINK,
    LAMP_FLOW_SHIFT,
    LAMP_ON,
    LAMP_READY_SHIFT,
    LAMP_TONE,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    RAW_AIR_DK,
    RAW_AIRSPEED_MV,
    RAW_BARO_DAPA,
    RAW_BLOCK_MV,
    RAW_BOTTLE_DK,
    RAW_BUS_MV,
    RAW_COUNT,
    RAW_CURRENTS,
    RAW_EXTRAS,
    RAW_FUEL_MV,
    RAW_OUTLET_1_DK,
    RAW_OUTLET_2_DK,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SHORTS,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    RAW_THROTTLE_MV,
    SW_DETENT_NC,
    SW_INJECT,
    SW_MASTER,
)


@pytest.fixture
def chip():
    return Chip()


@pytest.fixture
def here(chip, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    return load_board(chip, monkeypatch)


@pytest.fixture
def board(here):
    return here.Board()


def sampled(board, times=3):
    raw = [0] * RAW_COUNT
    for _ in range(times):
        board.sample(raw)
    return raw


def test_importing_the_board_file_sets_every_gate_off_and_touches_nothing_else(chip, here):
    gates = list(rp2_pins.GATES)
    assert [gpio for gpio, _ in chip.log[: len(gates)]] == gates
    assert {gpio for gpio, _ in chip.log} == set(gates)
    assert all(level == 0 for _, level in chip.log)
    assert set(gates) <= chip.outputs
    assert chip.watchdog_ms is None


def test_from_reset_to_a_made_board_no_gate_is_ever_high(chip, board):
    assert not any(level for gpio, level in chip.log if gpio in rp2_pins.GATES)
    assert chip.highs() == []
    assert chip.level("CONVERTER_SELECT") == 1
    assert chip.level("MEMORY_SELECT") == 1


def test_every_output_word_reaches_exactly_its_own_pins(chip, board):
    words = (0, OUT_MASTER_FUEL, OUT_PURGE, OUT_RUN, OUT_MASTER_OX, 15)
    for ox, fuel, bits in itertools.product((0, 1, 5, 15), (0, 2, 15), words):
        board.drive(ox, fuel, bits)
        expected = {f"OX{i + 1}" for i in range(4) if ox >> i & 1} | {f"FU{i + 1}" for i in range(4) if fuel >> i & 1}
        expected |= {"MASTER_FUEL"} if bits & OUT_MASTER_FUEL else set()
        expected |= {"MASTER_OX"} if bits & OUT_MASTER_OX else set()
        expected |= {"PURGE"} if bits & OUT_PURGE else set()
        assert set(chip.highs()) == expected


def test_fuel_goes_off_before_oxidizer_and_comes_on_after_it(chip, board):
    for before, after in itertools.product(range(16), repeat=2):
        board.drive(before, before, OUT_MASTER_FUEL if before else 0)
        chip.log.clear()
        board.drive(after, after, OUT_MASTER_FUEL if after else 0)
        levels = {pin(f"{name}{i}"): before >> (i - 1) & 1 for name in ("OX", "FU") for i in range(1, 5)}
        for gpio, level in chip.log:
            levels[gpio] = level
            for i in range(1, 5):
                assert levels[pin(f"OX{i}")] or not levels[pin(f"FU{i}")], (before, after, i)


def test_outputs_off_clears_every_gate_whatever_was_on(chip, here, board):
    board.drive(15, 15, 15)
    chip.levels[pin("RUN")] = 1
    here.outputs_off()
    assert chip.highs() == []


def test_a_kick_is_one_rising_edge_and_ends_low(chip, board):
    chip.log.clear()
    board.kick()
    assert chip.log == [(pin("RUN"), 1), (pin("RUN"), 0)]


def test_run_is_never_held_by_the_command_word(chip, board):
    board.drive(0, 0, OUT_RUN)
    assert chip.level("RUN") == 0


def test_registers_read_into_their_words(chip, board):
    chip.registers[:] = bytes((0x40 | SW_MASTER | SW_DETENT_NC, 0x35, 0x81, 0x12, 0xA0 | 0x9, 0xC0 | 0x29))
    raw = sampled(board)
    assert raw[RAW_SWITCHES] == SW_MASTER | SW_DETENT_NC | 0x3500
    assert raw[RAW_CURRENTS] == 0x81 | COIL_PURGE
    assert raw[RAW_SHORTS] == 0x12 | COIL_MASTER_FUEL | COIL_MASTER_OX
    assert raw[RAW_EXTRAS] == EX_KNOCK | EX_FIRE
    chip.registers[5] = 0xC0 | 0x10
    assert sampled(board)[RAW_CURRENTS] == 0x81 | COIL_PURGE | COIL_MASTER_OX
    chip.straps.add("INJECT_STRAP")
    assert sampled(board)[RAW_SWITCHES] & SW_INJECT


def test_converter_counts_become_millivolts_on_every_channel(chip, board):
    for channel, counts in enumerate((819, 1638, 2457, 3276, 1434, 1024)):
        chip.volts[channel] = counts
    raw = sampled(board)
    assert raw[RAW_THROTTLE_MV] == 819 * 5000 // 4096
    assert raw[RAW_SUPPLY_MV] == 1638 * 5000 // 4096
    assert raw[RAW_FUEL_MV] == 2457 * 5000 // 4096
    assert raw[RAW_BLOCK_MV] == 3276 * 5000 // 4096
    assert raw[RAW_BUS_MV] == 1434 * 40000 // 4096
    assert raw[RAW_RAIL_MV] == 10000


@pytest.mark.parametrize("fault", ["sentinel 0", "sentinel 4", "sentinel 5", "all ones", "converter"])
def test_one_bad_frame_keeps_the_last_samples_and_two_lose_them_all(chip, board, fault):
    chip.registers[0] |= SW_MASTER
    chip.volts[0] = chip.volts[4] = 2000
    raw = sampled(board)
    kept = list(raw)
    if fault == "sentinel 0":
        chip.registers[0] ^= 0x40
    elif fault == "sentinel 4":
        chip.registers[4] ^= 0x10
    elif fault == "sentinel 5":
        chip.registers[5] ^= 0x80
    elif fault == "all ones":
        chip.registers[:] = b"\xff" * 6
    else:
        chip.converter_dead = True
    board.sample(raw)
    assert raw[RAW_SWITCHES] == kept[RAW_SWITCHES]
    assert raw[RAW_THROTTLE_MV] == kept[RAW_THROTTLE_MV]
    board.sample(raw)
    for i in (
        RAW_SWITCHES,
        RAW_CURRENTS,
        RAW_THROTTLE_MV,
        RAW_SUPPLY_MV,
        RAW_FUEL_MV,
        RAW_BLOCK_MV,
        RAW_BUS_MV,
        RAW_RAIL_MV,
    ):
        assert raw[i] == 0
    chip.registers[:] = bytes((0x40 | SW_MASTER, 0, 0, 0, 0xA0, 0xC0))
    chip.converter_dead = False
    assert sampled(board)[RAW_SWITCHES] == SW_MASTER


EXTRAS = (RAW_BOTTLE_DK, RAW_BARO_DAPA, RAW_AIR_DK, RAW_OUTLET_1_DK, RAW_OUTLET_2_DK, RAW_AIRSPEED_MV)


def warm(chip):
    """Every extra sensor at something it reads in service."""
    for channel in range(6):
        chip.extras[channel] = 2100


def test_the_second_converter_fills_in_the_slow_extras_in_a_round_of_its_channels(chip, board):
    warm(chip)
    chip.extras[rp2_pins.EXTRA_BARO] = round(0.8530 * 4096)  # 4.265 V
    raw = sampled(board, rp2_pins.EXTRA_CHANNELS * 2)
    assert raw[RAW_BOTTLE_DK] == raw[RAW_AIR_DK] == from_table(THERMISTOR_DK, 2100)
    assert raw[RAW_OUTLET_1_DK] == raw[RAW_OUTLET_2_DK] == from_table(THERMOCOUPLE_DK, 2100)
    assert abs(raw[RAW_BARO_DAPA] - (2000 + 3765 * 2.5)) < 3
    assert raw[RAW_AIRSPEED_MV] == 2100 * 5000 >> 12
    assert chip.level("CONVERTER_SELECT") == chip.level("MEMORY_SELECT") == 1


@pytest.mark.parametrize("fault", ["silent", "reference"])
def test_a_fault_of_the_second_converter_breaks_its_own_signals_and_no_other(chip, board, fault):
    warm(chip)
    chip.volts[0] = 2000
    assert all(sampled(board, 14)[i] for i in EXTRAS)
    if fault == "silent":
        chip.extras_dead = True
    else:
        chip.extras[rp2_pins.EXTRA_REFERENCE] = 2048 + 60
    raw = sampled(board, rp2_pins.EXTRA_CHANNELS)
    assert [raw[i] for i in EXTRAS] == [0] * 6
    assert raw[RAW_THROTTLE_MV] == 2000 * 5000 >> 12
    assert board._bad_frames == 0


def test_the_master_oxidizer_valve_is_open_whenever_a_stage_is(chip, board):
    for before, after in itertools.product(range(4), repeat=2):
        board.drive(before, 0, OUT_MASTER_OX if before else 0)
        chip.log.clear()
        board.drive(after, 0, OUT_MASTER_OX if after else 0)
        levels = {pin("OX1"): before & 1, pin("OX2"): before >> 1 & 1, pin("MASTER_OX"): 1 if before else 0}
        for gpio, level in chip.log:
            levels[gpio] = level
            assert levels[pin("MASTER_OX")] or not (levels[pin("OX1")] or levels[pin("OX2")])


def test_a_wrong_reference_voltage_is_a_bad_frame(chip, board):
    chip.volts[4] = 2000
    sampled(board)
    chip.volts[rp2_pins.CHANNEL_REFERENCE] = 2048 + 60
    for _ in range(3):
        before = board._bad_frames
        board.sample([0] * RAW_COUNT)
        if board._bad_frames > before:
            break
    else:
        raise AssertionError("never noticed")


def test_engine_speed_comes_from_the_last_pulse_interval(chip, board):
    raw = sampled(board)
    assert (raw[RAW_RPM], raw[RAW_PULSE_AGE_MS]) == (0, 10000)
    interval_us = 60_000_000 // (2600 * rp2_pins.PULSES_PER_TURN)
    for _ in range(3):
        chip.now_us += interval_us
        chip.intervals.append(interval_us)
        board.sample(raw)
    assert abs(raw[RAW_RPM] - 2600) <= 1
    assert raw[RAW_PULSE_AGE_MS] == 0
    chip.now_us += 123_000
    board.sample(raw)
    assert raw[RAW_PULSE_AGE_MS] == 123
    assert abs(raw[RAW_RPM] - 2600) <= 1


def test_the_first_pulse_after_a_stop_gives_no_speed(chip, board):
    raw = sampled(board)
    chip.intervals.append(4000)
    board.sample(raw)
    assert raw[RAW_RPM] == 0
    chip.now_us += 5000
    chip.intervals.append(5000)
    board.sample(raw)
    assert raw[RAW_RPM] == 4000


def test_the_pulse_age_saturates_and_stays_there_when_the_clock_wraps(chip, board):
    raw = sampled(board)
    chip.intervals.append(4000)
    board.sample(raw)
    for _ in range(300):
        chip.now_us = (chip.now_us + 5_000_000) & 0x3FFFFFFF
        board.sample(raw)
        assert raw[RAW_PULSE_AGE_MS] in (5000, 10000)
    assert raw[RAW_PULSE_AGE_MS] == 10000


def test_a_pulse_no_engine_makes_stays_a_small_number(chip, board):
    raw = sampled(board)
    for interval in (5000, 1):
        chip.intervals.append(interval)
        chip.now_us += 10
        board.sample(raw)
    assert raw[RAW_RPM] == 0xFFFF


def test_lamps_go_out_with_the_next_sample_and_blink(chip, board):
    board.lamps(LAMP_ON << LAMP_READY_SHIFT | LAMP_TONE, -1)
    sampled(board, 1)
    assert chip.registers_sent[-1] == 0b100001
    seen = set()
    for _ in range(200):
        board.lamps(LAMP_BLINK << LAMP_FLOW_SHIFT, -1)
        sampled(board, 1)
        seen.add(chip.registers_sent[-1])
    assert seen == {0, 2}


def test_the_lockout_word_goes_through_the_memory_and_back(chip, board):
    board.use_lockout_memory(True)
    assert board.lockout_read() == UNREADABLE
    for word in (0, 1, 3, 4):
        board.lockout_write(word)
        assert board.lockout_read() == word
        assert chip.level("MEMORY_SELECT") == 1
    chip.memory[2] ^= 4
    assert board.lockout_read() == UNREADABLE


def test_the_watchdog_starts_only_when_told_and_at_250_ms(chip, board):
    board.feed()
    assert (chip.watchdog_ms, chip.fed) == (None, 0)
    board.start_watchdog()
    board.feed()
    assert (chip.watchdog_ms, chip.fed) == (250, 1)


def test_only_a_true_time_out_counts_as_a_watchdog_reset(chip, here, board):
    chip.words.update({here.WATCHDOG_REASON: 0, here.WATCHDOG_MARK: here.TIMED_OUT})
    assert not board.reset_by_watchdog()
    chip.words.update({here.WATCHDOG_REASON: 1, here.WATCHDOG_MARK: 0})
    assert not board.reset_by_watchdog()
    chip.words.update({here.WATCHDOG_REASON: 1, here.WATCHDOG_MARK: here.TIMED_OUT})
    assert board.reset_by_watchdog()


def test_a_restart_into_maintenance_counts_once(chip, here, monkeypatch):
    with pytest.raises(SystemExit):
        here.restart(True)
    assert chip.resets == 1
    assert load_board(Chip(), monkeypatch).maintenance()
    assert not load_board(Chip(), monkeypatch).maintenance()


def test_the_maintenance_strap_is_a_pin_to_ground(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    chip = Chip()
    chip.straps.add("MAINTENANCE_STRAP")
    assert load_board(chip, monkeypatch).maintenance()


def test_the_keyboard_interrupt_is_off_from_the_start(chip, board):
    assert chip.keyboard == -1
    board.interruptible(1)
    assert chip.keyboard == 3
    board.interruptible(0)
    assert chip.keyboard == -1


def test_the_link_takes_what_there_is_and_never_waits_to_write(chip, board):
    chip.inbox += bytes(range(30))
    into = bytearray(64)
    assert board.link_read(into) == 12
    assert into[:12] == bytes(range(12))
    chip.inbox.clear()
    assert board.link_read(into) == 0
    chip.room = 5
    assert board.link_write(bytearray(b"abcdefgh"), 8) == 5
    assert chip.outbox == b"abcde"
    assert board.link_write(bytearray(b"fgh"), 3) == 0


def test_giving_up_leaves_outputs_off_and_lets_the_keyboard_interrupt_in(chip, here, board, monkeypatch):
    board.drive(15, 15, 15)
    monkeypatch.setattr(here.micropython, "kbd_intr", lambda key: (_ for _ in ()).throw(KeyboardInterrupt(key)))
    with pytest.raises(KeyboardInterrupt, match="3"):
        here.give_up()
    assert chip.highs() == []


def test_the_same_fault_is_written_once(here, board, monkeypatch):
    board.note_fault("MemoryError()")
    monkeypatch.setattr(board.files, "write", lambda *_: pytest.fail("written again"))
    board.note_fault("MemoryError()")
    assert board.files.read("fault.txt") == b"MemoryError()"
