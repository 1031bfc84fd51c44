"""Load the cause-and-effect table and turn its tests into Python.

Every test of the table is parsed, its names resolved (settings and levels become numbers, named
conditions are put in place, the state is a number because code is made per state), and what is then
constant is folded away. What remains is the source of one function per state, which is what makes the
reference quick enough for millions of steps.
"""

import ast
import operator
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from oxlatch import reasons, vocabulary
from oxlatch.settings import FIELDS, Settings

TABLE_PATH = Path(__file__).with_name("reference.toml")

VERDICTS = {
    **{
        name: name
        for name in (
            *(
                "master",
                "purge",
                "ack",
                "bench",
                "inject",
                "sel",
                "proof",
                "contact",
                "contact_stuck",
                "chatter",
            ),
            *(
                "throttle",
                "throttle_low_seen",
                "rpm",
                "supply",
                "line",
                "falling",
                "line_lost",
                "supply_warn",
            ),
            *("block", "bus", "rail", "shut", "time", "late", "current", "missing", "stray", "short"),
            *("purge_held", "leak_watch", "boot", "service", "extras", "row", "outlets", "bottle_g"),
        )
    },
    "fuel_pressure": "fuel",
}

SETTING_NAMES = frozenset(field[0] for field in FIELDS)

# Which kinds of state a `when` of the cause section stands for, as a test.
WHEN = {
    "run": "opened",
    "flow": "flowing",
    "driven": "flowing or (on_bench and ox != 0)",
    "powered": "flowing or on_bench",
    "energized": "flowing or on_bench or state == PURGING",
    "guarded": "guarded",
    "found": "state == WAKE or state == TRIP or state == SERVICE",
    "always": "True",
}


class TableError(ValueError):
    """The table holds a test or a name that cannot be understood; the message names the row."""


def _constants() -> dict[str, int]:
    """Level, state, class, bit and reason names with their values."""
    found: dict[str, int] = {}
    for module in (vocabulary, reasons):
        for name, value in vars(module).items():
            if name.isupper() and isinstance(value, int):
                found[name] = value
    return found


CONSTANTS = _constants()

_OPERATORS: dict[type, Callable[..., Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.BitAnd: operator.and_,
    ast.BitOr: operator.or_,
    ast.BitXor: operator.xor,
    ast.LShift: operator.lshift,
    ast.RShift: operator.rshift,
    ast.Eq: operator.eq,
    ast.NotEq: operator.ne,
    ast.Lt: operator.lt,
    ast.LtE: operator.le,
    ast.Gt: operator.gt,
    ast.GtE: operator.ge,
    ast.Not: operator.not_,
    ast.Invert: operator.invert,
    ast.USub: operator.neg,
}


@cache
def load_table(path: Path = TABLE_PATH) -> Mapping[str, Any]:
    """The table as read from its file."""
    with path.open("rb") as stream:
        return tomllib.load(stream)


class Resolver:
    """Turns the text of a test into folded source for one settings record and one state."""

    def __init__(self, table: Mapping[str, Any], settings: Settings) -> None:
        self.conditions = {row["name"]: row["test"] for row in table["condition"]}
        self.memory = frozenset(table["memory"]) | {row["name"] for row in table["counter"]}
        self.settings = {name: int(getattr(settings, name)) for name in SETTING_NAMES}
        self.settings["STAGE_MASK"] = (1 << settings.stages) - 1
        self.quantities = {row["name"]: self._sum(row) for row in table["sum"]}
        self.quantities |= {row["name"]: self._pick(row) for row in table["pick"]}

    def _sum(self, row: Mapping[str, Any]) -> str:
        """A setting per stage, added up over the stages whose bit is set."""
        over = f"v.{row['over']}" if row["over"] in VERDICTS else f"m.{row['over']}"
        values = [self.settings[f"{row['of']}_{number + 1}"] for number in range(self.settings["stages"])]
        parts = [f"({value} if {over} & {1 << number} else 0)" for number, value in enumerate(values)]
        return " + ".join(parts)

    def _pick(self, row: Mapping[str, Any]) -> str:
        """The setting whose place in the list a verdict gives."""
        values = tuple(self.settings[name] for name in row["of"])
        return f"{values}[v.{row['by']}]"

    def node(self, text: str, places: Mapping[str, str | int]) -> ast.expr:
        """The folded expression; `places` gives the names that this row alone knows."""
        try:
            tree = ast.parse(text, mode="eval").body
        except SyntaxError as error:
            raise TableError(f"test {text!r}: {error.msg}") from error
        return self._fold(tree, places, text)

    def source(self, text: str, places: Mapping[str, str | int]) -> str:
        """As `node`, as Python source."""
        return ast.unparse(self.node(text, places))

    def constant(self, text: str, places: Mapping[str, str | int]) -> bool | None:
        """True or False where the test is settled by settings and state alone, else None."""
        node = self.node(text, places)
        return bool(node.value) if isinstance(node, ast.Constant) else None

    def _fold(self, node: ast.expr, places: Mapping[str, str | int], text: str) -> ast.expr:
        if isinstance(node, ast.Constant):
            return node
        if isinstance(node, ast.Name):
            return self._name(node.id, places, text)
        if isinstance(node, ast.BoolOp):
            return self._bool(node, places, text)
        if isinstance(node, ast.UnaryOp):
            operand = self._fold(node.operand, places, text)
            if isinstance(operand, ast.Constant):
                return ast.Constant(_OPERATORS[type(node.op)](operand.value))
            return ast.UnaryOp(node.op, operand)
        if isinstance(node, ast.BinOp):
            return self._pair(node.op, node.left, node.right, places, text)
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            return self._pair(node.ops[0], node.left, node.comparators[0], places, text)
        raise TableError(f"test {text!r}: {type(node).__name__} is not part of the language of the table")

    def _name(self, name: str, places: Mapping[str, str | int], text: str) -> ast.expr:
        if name in places:
            place = places[name]
            return ast.Constant(place) if isinstance(place, int) else ast.parse(place, mode="eval").body
        if name in self.conditions:
            return self.node(self.conditions[name], places)
        if name in self.quantities:
            return ast.parse(self.quantities[name], mode="eval").body
        if name in self.settings:
            return ast.Constant(self.settings[name])
        if name in CONSTANTS:
            return ast.Constant(CONSTANTS[name])
        if name in VERDICTS:
            return ast.parse(f"v.{VERDICTS[name]}", mode="eval").body
        if name in self.memory:
            return ast.parse(f"m.{name}", mode="eval").body
        raise TableError(f"test {text!r}: {name!r} is no level, setting, verdict, memory or condition")

    def _pair(
        self, kind: ast.AST, left: ast.expr, right: ast.expr, places: Mapping[str, str | int], text: str
    ) -> ast.expr:
        if type(kind) not in _OPERATORS:
            raise TableError(f"test {text!r}: {type(kind).__name__} is not part of the language of the table")
        first, second = self._fold(left, places, text), self._fold(right, places, text)
        if isinstance(first, ast.Constant) and isinstance(second, ast.Constant):
            return ast.Constant(_OPERATORS[type(kind)](first.value, second.value))
        if isinstance(kind, ast.operator):
            return ast.BinOp(first, kind, second)
        assert isinstance(kind, ast.cmpop)
        return ast.Compare(first, [kind], [second])

    def _bool(self, node: ast.BoolOp, places: Mapping[str, str | int], text: str) -> ast.expr:
        decides = isinstance(node.op, ast.Or)
        kept: list[ast.expr] = []
        for value in node.values:
            folded = self._fold(value, places, text)
            if not isinstance(folded, ast.Constant):
                kept.append(folded)
            elif bool(folded.value) == decides:
                return ast.Constant(decides)
        if not kept:
            return ast.Constant(not decides)
        return kept[0] if len(kept) == 1 else ast.BoolOp(node.op, kept)


def is_false(source: str) -> bool:
    """Whether folded source can never hold."""
    return source in ("False", "0")


@cache
def _words_by_name() -> Mapping[str, int]:
    """The word of each reason: its module lists them in order, and every word begins again at bit 0."""
    found: dict[str, int] = {}
    word = -1
    for name, value in vars(reasons).items():
        if name == "RULES":
            break
        if not name.isupper() or not isinstance(value, int) or name in vars(vocabulary) or name == "WORDS":
            continue
        if value == 1:
            word += 1
        found[name] = word
    return found


def reason_place(name: str) -> tuple[int, int]:
    """Word and bit of a reason by its name in the table of reasons."""
    if name not in _words_by_name():
        raise TableError(f"reason {name!r} is not in the table of reasons")
    return _words_by_name()[name], CONSTANTS[name]
