"""What a board gets does the same as the source: same ticks, same lines, and it does not depend on a name left out."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from tests.micropython.samples import HERE as SCRIPTS
from tests.micropython.samples import run_cpython, write_scenarios

import oxlatch
from oxlatch_sim.scenario import find
from oxlatch_tools.serial.board_source import Firmware, SourceError
from oxlatch_tools.serial.device_files import start_files

PACKAGE = Path(str(oxlatch.__file__)).parent
DIGEST = SCRIPTS / "replay_digest.py"


def firmware_of(tmp_path, **files):
    """A package of a few files; each begins as the real one does not have to."""
    package = tmp_path / "oxlatch"
    (package / "boards").mkdir(parents=True)
    for path in (package / "__init__.py", package / "boards" / "__init__.py"):
        path.write_text('"""A package."""\n')
    for name, text in files.items():
        path = package / (name.replace("__", "/") + ".py")
        path.write_text(text)
    return package


def board_texts(package, program, board="desk"):
    firmware = Firmware(package, board)
    firmware.keep_for([program])
    return firmware.board_texts()


@pytest.fixture(scope="module")
def texts():
    firmware = Firmware(PACKAGE, "desk")
    firmware.keep_for([(start_files() / name).read_text() for name in ("boot.py", "main.py")])
    return firmware.board_texts()


def test_a_scenario_gives_the_same_digest_from_the_source_and_from_what_a_board_gets(tmp_path):
    samples = write_scenarios([find("knock-stops-the-flow"), find("cold-outlets-confirm-the-purge")], tmp_path / "raw")
    for name, text in board_texts(PACKAGE, DIGEST.read_text()).items():
        path = tmp_path / "board" / "oxlatch" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    command = [sys.executable, str(DIGEST), str(tmp_path / "board"), str(samples)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == run_cpython("replay_digest.py", samples)


def statements(text):
    return {(type(node), node.lineno) for node in ast.walk(ast.parse(text)) if isinstance(node, ast.stmt)}


def test_every_statement_kept_is_on_its_own_line(texts):
    for name, text in texts.items():
        assert statements(text) <= statements((PACKAGE / name).read_text()), name


def test_written_out_constants_are_the_source_with_names_for_numbers(texts):
    """Undone by hand: with every number folded, source and board text of the gate compute the same tree."""
    import oxlatch.gate as gate

    class Fold(ast.NodeTransformer):
        def visit_Name(self, node):
            value = vars(gate).get(node.id)
            return ast.Constant(value) if type(value) is int and isinstance(node.ctx, ast.Load) else node

    def functions(text):
        return [ast.dump(Fold().visit(node)) for node in ast.parse(text).body if isinstance(node, ast.FunctionDef)]

    assert functions(texts["gate.py"]) == functions((PACKAGE / "gate.py").read_text())
    assert "RPM_HOLD" in (PACKAGE / "gate.py").read_text()
    assert "RPM_HOLD" not in texts["gate.py"]


def test_no_name_is_left_that_nothing_makes(texts):
    """Every name read in a file is made in it, imported into it, or built in."""
    import builtins

    for name, text in texts.items():
        tree = ast.parse(text)
        made = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)}
        made |= {node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)}
        made |= {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.ClassDef)}
        made |= {node.name for node in ast.walk(tree) if isinstance(node, ast.ExceptHandler) and node.name}
        for node in ast.walk(tree):
            if isinstance(node, ast.Import | ast.ImportFrom):
                made |= {(alias.asname or alias.name).split(".")[0] for alias in node.names}
        read = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
        assert read - made - set(dir(builtins)) == set(), name


def test_every_import_finds_what_it_names(texts):
    for name, text in texts.items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("oxlatch"):
                path = node.module.removeprefix("oxlatch").strip(".").replace(".", "/")
                target = texts.get(f"{path}.py") or texts.get(f"{path}/__init__.py".lstrip("/"))
                assert target is not None, (name, node.module)
                for alias in node.names:
                    assert alias.name in target or f"{path}/{alias.name}.py".lstrip("/") in texts, (name, alias.name)


def test_numbers_only_the_host_reads_and_words_for_people_stay_behind(texts):
    assert "vocabulary.py" not in texts
    whole = "\n".join(texts.values())
    for name in ("STATE_NAMES", "REFUSALS", "EVENT_NAMES", "def pack("):
        assert name not in whole


def test_a_negative_number_keeps_its_meaning(tmp_path):
    package = firmware_of(tmp_path, boards__thing="BAD = -3\ndef f(x):\n    return x - BAD * 2\n")
    text = board_texts(package, "from oxlatch.boards import thing\n", "thing")["boards/thing.py"]
    assert "return x - (-3) * 2" in text


def test_a_board_file_keeps_everything_and_works_its_own_numbers_out(tmp_path):
    board = (
        "import machine\nLED = 1 << 3\nHALF = LED >> 1\npin = machine.Pin(LED)\nWORD = machine.read()\n"
        "def on():\n    pin.value(HALF, WORD)\n"
    )
    package = firmware_of(tmp_path, boards__thing=board, boards__other="import nothing\n")
    texts = board_texts(package, "from oxlatch.boards import thing as here\n", "thing")
    assert set(texts) == {"__init__.py", "boards/__init__.py", "boards/thing.py"}
    assert "pin.value(4, WORD)" in texts["boards/thing.py"]
    assert "pin = machine.Pin(8)" in texts["boards/thing.py"]
    assert "WORD = machine.read()" in texts["boards/thing.py"]


@pytest.mark.parametrize("program", ["from oxlatch.nothing import x\n", "from oxlatch.gate import no_such_name\n"])
def test_a_program_that_names_what_is_not_there_is_told(program):
    with pytest.raises(SourceError, match=r"there is no (such module|no_such_name)"):
        board_texts(PACKAGE, program)
