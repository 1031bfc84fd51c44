"""boot.py and main.py: outputs off first, off last, and no way out that leaves one on."""

import ast
import random
import runpy
import sys
from pathlib import Path

import pytest
from tests.firmware.desk_bench import FakeBoard, frame, ready_board
from tests.firmware.fake_machine import Chip, load_board

from oxlatch import protocol
from oxlatch.boards.rp2_pins import GATES

FIRMWARE = Path(__file__).parents[2] / "firmware"


class Here:
    """A board file that notes what was called in which order."""

    def __init__(self, board=None, maintenance=False):
        self.calls = []
        self.board = board
        self.is_maintenance = maintenance

    def outputs_off(self):
        self.calls.append("off")
        if self.board:
            self.board.ox = self.board.fuel = self.board.bits = 0

    def maintenance(self):
        return self.is_maintenance

    def restart(self, into_maintenance):
        self.calls.append("maintenance" if into_maintenance else "restart")
        raise SystemExit

    def give_up(self):
        self.calls.append("give up")

    def Board(self):
        self.calls.append("board")
        return self.board


def watched(board):
    """A fake board with the three things main.py asks for beyond the loop's."""
    board.faults = []
    board.watchdog = False
    board.note_fault = board.faults.append
    board.start_watchdog = lambda: setattr(board, "watchdog", True)
    return board


@pytest.fixture(scope="module")
def main():
    return runpy.run_path(str(FIRMWARE / "main.py"), run_name="main")["main"]


def test_boot_turns_outputs_off_before_anything_else_can_run():
    tree = ast.parse((FIRMWARE / "boot.py").read_text())
    imports = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    assert [alias.name for node in imports for alias in node.names] == ["sys"]
    board_file = ast.parse((FIRMWARE / "oxlatch/boards/rp2.py").read_text())
    before_off = [ast.unparse(node) for node in board_file.body[1:5]]
    assert before_off[0] == "import machine"
    assert before_off[1] == "from oxlatch.boards import rp2_pins as pins"
    assert before_off[2].startswith("_GATES = [machine.Pin(gpio, machine.Pin.OUT, value=0)")
    pins_file = ast.parse((FIRMWARE / "oxlatch/boards/rp2_pins.py").read_text())
    assert not [node for node in ast.walk(pins_file) if isinstance(node, ast.Import | ast.ImportFrom)]


def test_maintenance_starts_no_loop_no_board_and_no_watchdog(main):
    here = Here(watched(ready_board()), maintenance=True)
    here.board.idle = lambda left_us: pytest.fail("a loop runs")
    main(here)
    assert here.calls == ["off", "off"]
    assert not here.board.watchdog


def test_a_restart_asked_for_by_the_host_goes_through_outputs_off(main):
    board = watched(ready_board())
    here = Here(board)
    idle = board.idle

    def idle_then_ask(left_us):
        idle(left_us)
        if board.now_us > 2_000_000 and not board.asked:
            board.asked = True
            board.inbox += frame(protocol.RESTART, b"\1")

    board.asked = False
    board.idle = idle_then_ask
    with pytest.raises(SystemExit):
        main(here)
    assert here.calls == ["off", "board", "off", "maintenance", "off"]
    assert board.watchdog


@pytest.mark.parametrize("fault", [RuntimeError("x"), MemoryError(), OSError(5), ZeroDivisionError()])
def test_any_fault_ends_off_noted_and_with_the_watchdog_unfed(main, fault):
    board = watched(ready_board())
    here = Here(board)

    def broken(_raw):
        board.ox = board.fuel = 15
        raise fault

    board.sample = broken
    main(here)
    assert (board.ox, board.fuel, board.bits) == (0, 0, 0)
    assert board.faults == [repr(fault)]
    assert here.calls[-2:] == ["off", "give up"]
    assert board.calls[-1] == "off"
    assert "feed" not in board.calls


def test_a_board_that_cannot_be_made_ends_off(main):
    here = Here()
    here.Board = lambda: 1 / 0
    main(here)
    assert here.calls == ["off", "off", "off", "give up"]


def test_files_that_do_not_import_end_off(main, monkeypatch):
    monkeypatch.setitem(sys.modules, "oxlatch.startup", None)
    here = Here(watched(ready_board()))
    main(here)
    assert here.calls == ["off", "off", "off", "give up"]
    assert not here.board.watchdog


def test_a_keyboard_interrupt_restarts_into_maintenance_with_outputs_off(main):
    board = watched(ready_board())
    here = Here(board)

    def interrupted(_left_us):
        raise KeyboardInterrupt

    board.idle = interrupted
    with pytest.raises(SystemExit):
        main(here)
    assert here.calls == ["off", "board", "off", "maintenance", "off"]


def test_a_soft_reset_with_any_valves_open_closes_them_before_anything_else(monkeypatch, tmp_path):
    """A soft reset leaves pin levels as they were; the first writes after it must only ever turn gates off."""
    monkeypatch.chdir(tmp_path)
    rng = random.Random(1)
    for _ in range(100):
        chip = Chip()
        for gpio in GATES:
            chip.levels[gpio] = rng.randrange(2)
        load_board(chip, monkeypatch)
        assert chip.highs() == []
        assert chip.log[: len(GATES)] == [(gpio, 0) for gpio in GATES]
        assert not any(level for _, level in chip.log)


def test_a_board_without_settings_stays_off_and_says_so(main):
    board = watched(FakeBoard())
    here = Here(board)
    idle = board.idle

    def until_two_seconds(left_us):
        idle(left_us)
        if board.now_us > 2_000_000:
            raise KeyboardInterrupt

    board.idle = until_two_seconds
    with pytest.raises(SystemExit):
        main(here)
    assert not [call for call in board.calls if call == "kick"]
    assert (board.ox, board.fuel, board.bits) == (0, 0, 0)
