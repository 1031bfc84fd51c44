"""Mutants of the tick: one small change each to the syntax tree of a module, and the way to run them.

A mutant is applied by giving the running functions the code of the changed source and by rebinding changed
constants wherever they were imported, so that every argument sees it; leaving the context restores everything.
"""

import ast
import copy
import inspect
import linecache
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module
from types import CodeType, FunctionType, ModuleType

SHOWN_ONLY = ("vocabulary", "reasons", "lamps")  # names, and what is shown; not part of what is decided
FIRST = ("gate", "permits", "core")

GONE = "line gone"  # an assignment, a call or a return
DROPPED = "condition dropped"  # one part of an and, an or, a chain
EARLY = "early return"

SWAPPED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitOr,
    ast.LShift: ast.RShift, ast.RShift: ast.LShift, ast.And: ast.Or, ast.Or: ast.And,
    ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: where, what kind, the line before and after, and the whole changed text.

    `function` is empty for a constant of the module.
    """

    module: str
    function: str
    line: int
    kind: str
    before: str
    after: str
    text: str
    nth: int = 1  # of the same changes of the same line in the function

    @property
    def id(self) -> str:
        """A name that survives edits elsewhere in the file."""
        return f"{self.module}.{self.function}: {self.before} -> {self.after}"

    @property
    def where(self) -> str:
        """File and line."""
        return f"{self.module}.py:{self.line}"


def module_of(name: str) -> ModuleType:
    """A module of the firmware package."""
    return import_module(f"oxlatch.{name}")


def tick_modules() -> tuple[str, ...]:
    """Modules the controller's tick is made of, found by following its imports."""
    found: set[str] = set()
    waiting = ["controller"]
    while waiting:
        name = waiting.pop()
        if name in found or name in SHOWN_ONLY:
            continue
        found.add(name)
        for node in ast.walk(ast.parse(inspect.getsource(module_of(name)))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("oxlatch."):
                waiting.append((node.module or "").removeprefix("oxlatch."))
    return (*FIRST, *sorted(found - set(FIRST), key=lambda name: (name.startswith("sense"), name)))


MODULES = tick_modules()


@cache
def mutants_of(name: str) -> tuple[Mutant, ...]:
    """Every mutant of one module, in the order of its lines, each change once."""
    return mutants_in(name, inspect.getsource(module_of(name)))


def mutants_in(name: str, source: str) -> tuple[Mutant, ...]:
    """Every mutant of a module's text."""
    tree = ast.parse(source)
    whole = ast.unparse(tree)
    found: dict[tuple[int, str, str], Mutant] = {}
    for function, change in [*_constant_changes(tree), *_function_changes(tree)]:
        mutant = _made(name, function, tree, whole, change)
        if mutant.before != mutant.after:
            found.setdefault((mutant.line, mutant.before, mutant.after), mutant)
    return _numbered(sorted(found.values(), key=lambda mutant: (mutant.line, mutant.kind, mutant.after)))


def _numbered(mutants: list[Mutant]) -> tuple[Mutant, ...]:
    seen: Counter[tuple[str, str, str]] = Counter()
    numbered = []
    for mutant in mutants:
        same = mutant.function, mutant.before, mutant.after
        seen[same] += 1
        numbered.append(replace(mutant, nth=seen[same]))
    return tuple(numbered)


def _function_changes(tree: ast.Module) -> Iterator[tuple[str, "Change"]]:
    for function in [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]:
        if function.name.startswith("_") or function.name in ("__init__", "state_words", "load_words"):
            continue
        for change in _changes(function):
            yield function.name, change


def _constant_changes(tree: ast.Module) -> Iterator[tuple[str, "Change"]]:
    """Numbers and combinations of names that the module defines for itself."""
    for node in tree.body:
        if not isinstance(node, ast.Assign) or not isinstance(node.value, ast.Constant | ast.BinOp | ast.Tuple):
            continue
        if any(isinstance(inner, ast.Call | ast.Starred) for inner in ast.walk(node)):
            continue
        if isinstance(node.value, ast.Tuple) and not isinstance(node.targets[0], ast.Tuple):
            continue  # a table
        for owner in ast.walk(node):
            for change in _changes_below(owner):
                if change.kind != GONE:
                    yield "", change


@dataclass(frozen=True)
class Change:
    """What is done where: a node of `owner` replaced, or (early return) something put before it."""

    kind: str
    owner: ast.AST
    field: str
    index: int | None
    new: ast.AST
    line: int


def _changes(function: ast.FunctionDef) -> Iterator[Change]:
    for node in ast.walk(function):
        yield from _changes_below(node)
    if len(function.body) > 2:
        last = len(function.body) - 1
        yield Change(EARLY, function, "body", last, ast.Return(value=None), function.body[last].lineno)


def _changes_below(node: ast.AST) -> Iterator[Change]:
    for field, value in ast.iter_fields(node):
        if field in ("args", "decorator_list", "returns") and isinstance(node, ast.FunctionDef):
            continue
        values = value if isinstance(value, list) else [value]
        for at, child in enumerate(values):
            if isinstance(child, ast.AST):
                index = at if isinstance(value, list) else None
                for kind, new, line in _replacements(node, field, child):
                    yield Change(kind, node, field, index, new, line)


def _replacements(owner: ast.AST, field: str, node: ast.AST) -> Iterator[tuple[str, ast.AST, int]]:
    """What may stand instead of one node: kind, replacement, the line it is about."""
    line = getattr(node, "lineno", getattr(owner, "lineno", 0))
    if isinstance(node, ast.BoolOp):
        for at, dropped in enumerate(node.values):
            kept = node.values[:at] + node.values[at + 1 :]
            yield DROPPED, kept[0] if len(kept) == 1 else ast.BoolOp(node.op, kept), dropped.lineno
    for kind, new in _simple_replacements(owner, field, node):
        yield kind, new, line


def _simple_replacements(owner: ast.AST, field: str, node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    swapped = SWAPPED.get(type(node))
    if swapped is not None:
        yield _swap_kind(node), swapped()
    if isinstance(node, ast.Constant) and type(node.value) is int:
        yield "constant", ast.Constant(node.value + 1)
        if node.value > 0:
            yield "constant", ast.Constant(node.value - 1)
    elif isinstance(node, ast.Name) and node.id.isupper() and isinstance(node.ctx, ast.Load):
        yield "constant", ast.BinOp(copy.deepcopy(node), ast.Add(), ast.Constant(1))
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "condition", node.operand
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Invert):
        yield "bits", node.operand
    elif isinstance(node, ast.Compare) and len(node.ops) > 1:
        for at in range(len(node.ops)):
            left = [node.left, *node.comparators]
            yield DROPPED, ast.Compare(left[at], [node.ops[at]], [left[at + 1]])
    elif isinstance(node, ast.Assign | ast.AugAssign | ast.Return) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    ):
        yield GONE, ast.Pass()
    if field == "test" and isinstance(owner, ast.If | ast.IfExp):
        yield "condition", ast.Constant(True)
        yield "condition", ast.Constant(False)


def _swap_kind(node: ast.AST) -> str:
    if isinstance(node, ast.cmpop):
        return "comparison"
    if isinstance(node, ast.boolop):
        return "and/or"
    return "arithmetic" if isinstance(node, ast.Add | ast.Sub | ast.Mult | ast.FloorDiv) else "bits"


def _made(module: str, function: str, tree: ast.Module, whole: str, change: Change) -> Mutant:
    """The mutant of one change; the tree is put back."""
    slot = getattr(change.owner, change.field)
    if change.index is None:
        setattr(change.owner, change.field, change.new)
        text = ast.unparse(tree)
        setattr(change.owner, change.field, slot)
    elif change.kind == EARLY:
        slot.insert(change.index, change.new)
        text = ast.unparse(tree)
        del slot[change.index]
    else:
        old = slot[change.index]
        slot[change.index] = change.new
        text = ast.unparse(tree)
        slot[change.index] = old
    return Mutant(module, function, change.line, change.kind, *_difference(whole, text), text + "\n")


def _difference(before: str, after: str) -> tuple[str, str]:
    """The lines in which two texts differ."""
    old, new = before.splitlines(), after.splitlines()
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    gone = [text.strip() for text in old[head : len(old) - tail]]
    come = [text.strip() for text in new[head : len(new) - tail]]
    if not gone:  # something was put in: name the line it stands before
        gone = [old[head].strip()] if head < len(old) else []
        come = [*come, *gone]
    return " ".join(gone), " ".join(come)


@contextmanager
def applied(module_name: str, text: str) -> Iterator[None]:
    """Run the firmware with this text in place of a module's, and put everything back afterwards."""
    module = module_of(module_name)
    file = f"<changed {module_name} {hash(text) & 0xFFFFFFFF:08x}>"
    linecache.cache[file] = (len(text), None, text.splitlines(keepends=True), file)
    fresh: dict[str, object] = {"__name__": module.__name__}
    exec(compile(text, file, "exec"), fresh)
    codes = list(_codes(module, fresh))
    constants = list(_constants(module, fresh))
    try:
        for function, _old, new in codes:
            function.__code__ = new
        for holder, name, _before, after in constants:
            setattr(holder, name, after)
        yield
    finally:
        for function, old, _new in codes:
            function.__code__ = old
        for holder, name, before, _after in constants:
            setattr(holder, name, before)
        linecache.cache.pop(file, None)


def _codes(module: ModuleType, fresh: dict[str, object]) -> Iterator[tuple[FunctionType, CodeType, CodeType]]:
    for name, value in vars(module).items():
        other = fresh.get(name)
        if getattr(value, "__module__", None) != module.__name__:
            continue
        if isinstance(value, FunctionType) and isinstance(other, FunctionType):
            yield value, value.__code__, other.__code__
        elif isinstance(value, type) and isinstance(other, type):
            for method, body in vars(value).items():
                changed = vars(other).get(method)
                if isinstance(body, FunctionType) and isinstance(changed, FunctionType):
                    yield body, body.__code__, changed.__code__


def _constants(module: ModuleType, fresh: dict[str, object]) -> Iterator[tuple[ModuleType, str, object, object]]:
    for name, value in vars(module).items():
        other = fresh.get(name)
        if not isinstance(value, int | tuple) or type(other) is not type(value) or other == value:
            continue
        for holder in list(sys.modules.values()):
            if getattr(holder, "__name__", "").startswith("oxlatch.") and getattr(holder, name, None) == value:
                yield holder, name, value, other
