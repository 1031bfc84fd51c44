"""Firmware keeps to what the board's Python has: an allow-list of imports, and syntax that is never used."""

import ast
from pathlib import Path

import pytest

FIRMWARE = Path(__file__).parents[2] / "firmware"
SOURCES = sorted(FIRMWARE.rglob("*.py"))
EVERYWHERE = {"struct", "array", "binascii", "gc", "hashlib", "json", "os", "sys", "time", "micropython"}
ONLY_IN = {
    "machine": {"oxlatch/boards/rp2.py"},
    "rp2": {"oxlatch/boards/rp2_pulses.py"},
    "select": {"oxlatch/boards/rp2.py"},
    "socket": {"oxlatch/boards/desk.py"},
    "boot": {"main.py"},
}
# The tick and what it is made of: no clock, no file, no exception.
TICK = {"sense", "sense_engine", "sense_fuel", "sense_supply", "sense_volts", "permits", "sequencer", "flow", "purge"}
TICK |= {"pilot", "trip", "gate", "lamps", "core", "controller", "sense_extras", "permits_extras", "stock"}
TICK |= {"bench_modes"}
TRY_IN = {"main.py", "oxlatch/loop.py", "oxlatch/store.py", "oxlatch/manifest.py"}
TRY_IN |= {"oxlatch/boards/rp2.py", "oxlatch/boards/desk.py"}
NEVER = (
    ast.AsyncFunctionDef,
    ast.Await,
    ast.Yield,
    ast.YieldFrom,
    ast.Match,
    ast.NamedExpr,
    ast.Assert,
    ast.TryStar,
    ast.Div,
    ast.MatMult,
    ast.Nonlocal,
)


def name_of(path):
    return path.relative_to(FIRMWARE).as_posix()


def imports(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "no relative imports"
            yield node.module


def faults(name, text):
    """Everything in one firmware file that the board's subset does not allow."""
    tree = ast.parse(text)
    found = []
    for module in imports(tree):
        top = module.split(".")[0]
        if top != "oxlatch" and top not in EVERYWHERE and name not in ONLY_IN.get(top, ()):
            found.append(f"imports {module}")
    in_tick = name.removeprefix("oxlatch/").removesuffix(".py") in TICK
    for node in ast.walk(tree):
        if isinstance(node, NEVER) or (isinstance(node, ast.Constant) and isinstance(node.value, float | complex)):
            found.append(f"line {getattr(node, 'lineno', '?')}: {type(node).__name__}")
        if isinstance(node, ast.Try) and name not in TRY_IN:
            found.append(f"line {node.lineno}: try")
        if in_tick and isinstance(node, ast.Raise | ast.With | ast.Lambda | ast.Starred | ast.Global):
            found.append(f"line {getattr(node, 'lineno', '?')}: {type(node).__name__} in the tick")
        if isinstance(node, ast.FunctionDef) and node.args.posonlyargs:
            found.append(f"line {node.lineno}: positional-only")
    if in_tick and {"time", "os", "sys"} & set(imports(tree)):
        found.append("the tick reads a clock or a file")
    return found


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_firmware_keeps_to_the_subset(path):
    assert faults(name_of(path), path.read_text()) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("oxlatch/link.py", "import machine"),
        ("oxlatch/link.py", "from typing import Any"),
        ("oxlatch/gate.py", "x = 1.5"),
        ("oxlatch/gate.py", "x = 3 / 2"),
        ("oxlatch/gate.py", "import time"),
        ("oxlatch/gate.py", "assert True"),
        ("oxlatch/flow.py", "try:\n    pass\nfinally:\n    pass"),
        ("oxlatch/flow.py", "def f(a, /):\n    pass"),
        ("oxlatch/flow.py", "raise ValueError"),
        ("oxlatch/loop.py", "async def f():\n    pass"),
    ],
)
def test_each_kind_of_breach_is_found(name, text):
    assert faults(name, text)


def test_only_one_file_talks_to_the_hardware():
    users = [name_of(path) for path in SOURCES if "machine" in set(imports(ast.parse(path.read_text())))]
    assert users == ["oxlatch/boards/rp2.py"]
