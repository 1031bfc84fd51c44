"""The firmware's source as a board gets it: integers in place of their names, and only what the board uses.

On the board the name of a constant costs a dictionary look-up wherever it is used, and heap in every module that
imports it. So before the compiler sees a file, each module-level integer constant is written out where it is used, a
table of integers that is worked out at import is written out where it is made, and what then nothing on the board
refers to is left out. Nothing else changes, and every statement that stays is on its own line.
"""

import ast
import importlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

PACKAGE = "oxlatch"
BOARDS = PACKAGE + ".boards"

Name = tuple[str, str]
"""A module and a name in it; an empty name stands for the module itself."""


class SourceError(ValueError):
    """The firmware refers to something that is not there. The message says what and where."""


@dataclass
class Module:
    """One file, taken apart."""

    name: str
    text: str
    tree: ast.Module
    imported: dict[str, Name] = field(default_factory=dict)
    """What it imports from the package, by the name it has here."""
    defined: dict[str, ast.stmt] = field(default_factory=dict)
    """The module-level statement that makes a name."""
    constants: dict[str, int] = field(default_factory=dict)
    tables: dict[ast.stmt, str] = field(default_factory=dict)
    """What a statement that works out a table of integers comes to."""
    kept: set[ast.stmt] = field(default_factory=set)
    wanted: set[str] = field(default_factory=set)
    """Imported names that still stand in what is kept."""

    def constant_made_by(self, statement: ast.stmt) -> int | None:
        """The integer a module-level assignment gives a name to, if it is one."""
        if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
            return self.constants.get(statement.targets[0].id)
        return None


class Firmware:
    """The modules of the firmware package that one kind of board may need."""

    def __init__(self, package: Path, board: str) -> None:
        """`package` is the folder of the firmware package that this program imports."""
        self.modules: dict[str, Module] = {}
        self.paths: dict[str, str] = {}
        for path in sorted(package.rglob("*.py")):
            inside = path.relative_to(package)
            name = ".".join((PACKAGE, *inside.with_suffix("").parts)).removesuffix(".__init__")
            if name.startswith(BOARDS + ".") and path.stem.split("_")[0] != board:
                continue
            self.paths[name] = inside.as_posix()
            self.modules[name] = Module(name, path.read_text("utf-8"), ast.parse(path.read_text("utf-8")))
        for module in self.modules.values():
            self._take_apart(module)
        for module in self.modules.values():
            self._find_constants(module)

    def _imports(self, tree: ast.Module) -> Iterator[tuple[str, Name]]:
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and is_of_package(node):
                for alias in node.names:
                    inner = f"{node.module}.{alias.name}"
                    found = (inner, "") if inner in self.modules else (str(node.module), alias.name)
                    if found[0] != BOARDS:  # there it is the file of another board
                        yield alias.asname or alias.name, found

    def _take_apart(self, module: Module) -> None:
        module.imported.update(self._imports(module.tree))
        for statement in module.tree.body:
            for name in names_made(statement):
                module.defined[name] = statement

    # --- constants ---------------------------------------------------------------------------------
    def _find_constants(self, module: Module) -> None:
        """Upper-case names bound once in the whole file, to an integer or a table of integers."""
        bound = [node.id for node in ast.walk(module.tree) if isinstance(node, ast.Name) and is_bound(node)]
        bound += [node.arg for node in ast.walk(module.tree) if isinstance(node, ast.arg)]
        for name, statement in module.defined.items():
            if name != name.upper() or not isinstance(statement, ast.Assign) or bound.count(name) != 1:
                continue
            value = self._value(module, name, statement.value)
            if type(value) is int:
                module.constants[name] = value
            elif is_worked_out(statement.value) and is_of_integers(value):
                module.tables[statement] = repr(value)

    def _value(self, module: Module, name: str, expression: ast.expr) -> object:
        """What a name stands for: as the host imports it, or where that needs a board as its expression comes out."""
        try:
            return getattr(importlib.import_module(module.name), name)
        except (ImportError, AttributeError):
            if not module.name.startswith(BOARDS + "."):
                raise
        known = {local: self._constant(found) for local, found in module.imported.items()}
        known.update(module.constants)
        code = compile(ast.Expression(expression), module.name, "eval")
        try:
            return eval(code, {"__builtins__": {}}, known)
        except (NameError, TypeError, AttributeError):
            return None  # made by the hardware, or from it

    def _constant(self, found: Name) -> int | None:
        module, name = self._origin(found)
        return self.modules[module].constants.get(name) if module in self.modules else None

    def _origin(self, found: Name) -> Name:
        """Where a name is made, through modules that only pass it on."""
        module, name = found
        while module in self.modules and name in self.modules[module].imported:
            module, name = self.modules[module].imported[name]
        return module, name

    # --- what is needed ----------------------------------------------------------------------------
    def keep_for(self, texts: Iterable[str]) -> None:
        """Keep what these programs, themselves not of the package, import. Raises SourceError."""
        for text in texts:
            program = Module("", text, ast.parse(text))
            self._take_apart(program)
            for found in program.imported.values():
                if found[1] or found[0].startswith(BOARDS):  # main takes the board's file as a value, whole
                    self._need(found)
            for statement in program.tree.body:
                for _local, _node, found, _value in self._references(program, statement):
                    if found[0]:
                        self._need(found)

    def _need(self, found: Name) -> None:
        module_name, name = self._origin(found)
        if module_name not in self.modules:
            raise SourceError(f"{module_name}: there is no such module")
        module = self.modules[module_name]
        for statement in module.tree.body:
            if acts(statement) or (not name and is_kept_whole(module, statement)):
                self._keep(module, statement)
        if name:
            if name not in module.defined:
                raise SourceError(f"{module.name}: there is no {name}")
            self._keep(module, module.defined[name])

    def _keep(self, module: Module, statement: ast.stmt) -> None:
        if statement in module.kept:
            return
        module.kept.add(statement)
        if module.constant_made_by(statement) is not None or statement in module.tables:
            return
        for local, _node, found, value in self._references(module, statement):
            if value is None:
                self._need(found)
                module.wanted.add(local)

    def _references(
        self, module: Module, statement: ast.stmt
    ) -> Iterator[tuple[str, ast.Name | ast.Attribute, Name, int | None]]:
        """Where a statement reads something of the package: its name here, the node, what it is, its integer."""
        in_texts = [node for node in ast.walk(statement) if isinstance(node, ast.JoinedStr)]
        not_exact = {id(node) for text in in_texts for node in ast.walk(text)}  # their columns are not told
        seen: set[int] = set()
        for node in ast.walk(statement):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                local = node.value.id
                found = module.imported.get(local, ("", local))
                if found[1]:
                    continue
                seen.add(id(node.value))
                found = (found[0], node.attr)
            elif isinstance(node, ast.Name) and not is_bound(node) and id(node) not in seen:
                local = node.id
                if local not in module.imported and local not in module.defined:
                    continue
                found = module.imported.get(local, (module.name, local))
            else:
                continue
            yield local, node, found, None if id(node) in not_exact else self._constant(found)

    # --- what is written ---------------------------------------------------------------------------
    def board_texts(self) -> dict[str, str]:
        """The text of every file that is needed, by its path inside the package."""
        needed = [module for name, module in self.modules.items() if module.kept or name in (PACKAGE, BOARDS)]
        return {self.paths[module.name]: self._board_text(module) for module in needed}

    def _board_text(self, module: Module) -> str:
        page = Page(module.text)
        for statement in module.tree.body:
            value = module.constant_made_by(statement)
            if isinstance(statement, ast.ImportFrom) and is_of_package(statement):
                page.replace(statement, shortened(statement, module.wanted))
            elif is_import(statement):
                continue
            elif statement not in module.kept:
                page.replace(statement, "")
            elif isinstance(statement, ast.Assign) and (value is not None or statement in module.tables):
                page.replace(statement.value, module.tables.get(statement) or written(value or 0))
            else:
                self._write_out(page, module, statement)
        return page.text()

    def _write_out(self, page: "Page", module: Module, statement: ast.stmt) -> None:
        for _local, node, _found, value in self._references(module, statement):
            if value is not None:
                page.replace(node, written(value))
        for inner in ast.walk(statement):
            if isinstance(inner, ast.ImportFrom) and is_of_package(inner):
                page.replace(inner, shortened(inner, module.wanted) or "pass")


class Page:
    """A text in which nodes give way to other text while every line keeps its number."""

    def __init__(self, text: str) -> None:
        self._lines = [line.encode() for line in text.split("\n")]  # columns are told in bytes
        self._edits: list[tuple[int, int, int, int, bytes]] = []

    def replace(self, node: ast.stmt | ast.expr, text: str) -> None:
        """Let a node give way to a text of one line."""
        line, column = node.lineno, node.col_offset
        for decorator in getattr(node, "decorator_list", [])[:1]:
            line, column = decorator.lineno, decorator.col_offset - 1
        assert node.end_lineno is not None and node.end_col_offset is not None
        self._edits.append((line - 1, column, node.end_lineno - 1, node.end_col_offset, text.encode()))

    def text(self) -> str:
        """The text with everything replaced."""
        lines = list(self._lines)
        for first, column, last, end, text in sorted(self._edits, reverse=True):
            lines[first] = lines[first][:column] + text + lines[last][end:]
            lines[first + 1 : last + 1] = [b""] * (last - first)
        return b"\n".join(lines).decode()


def is_of_package(node: ast.ImportFrom) -> bool:
    """Whether an import is one from the firmware package."""
    return (node.module or "").split(".")[0] == PACKAGE


def is_import(statement: ast.stmt) -> bool:
    """Whether a statement is an import of any kind."""
    return isinstance(statement, ast.Import | ast.ImportFrom)


def is_bound(node: ast.Name) -> bool:
    """Whether a name is written here, not read."""
    return not isinstance(node.ctx, ast.Load)


def names_made(statement: ast.stmt) -> set[str]:
    """Names a module-level statement makes, imports aside."""
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        return {statement.name}
    if is_import(statement) or isinstance(statement, ast.Expr):
        return set()
    names = {node.id for node in ast.walk(statement) if isinstance(node, ast.Name) and is_bound(node)}
    for node in ast.walk(statement):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.ImportFrom) and not is_of_package(node):
            names.update(alias.asname or alias.name for alias in node.names)
    return names


def acts(statement: ast.stmt) -> bool:
    """Whether a module-level statement does more than make a name: it stays wherever its module is needed."""
    if isinstance(statement, ast.Expr):
        return not isinstance(statement.value, ast.Constant)
    makes_a_name = ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign
    return not is_import(statement) and not isinstance(statement, makes_a_name)


def is_kept_whole(module: Module, statement: ast.stmt) -> bool:
    """Whether a statement stays in a module that is used as a value: all but imports and numbers written out."""
    return not is_import(statement) and module.constant_made_by(statement) is None


def is_worked_out(expression: ast.expr) -> bool:
    """Whether an expression does something at import that its value, written out, need not do again."""
    return any(isinstance(node, ast.Call | ast.comprehension) for node in ast.walk(expression))


def is_of_integers(value: object) -> bool:
    """Whether a value is a tuple or dictionary, perhaps of more such, with nothing in it but integers."""
    if isinstance(value, tuple):
        return all(map(is_of_integers, value))
    if isinstance(value, dict):
        return all(type(key) is int for key in value) and all(map(is_of_integers, value.values()))
    return type(value) is int


def written(value: int) -> str:
    """An integer as it stands in place of its name."""
    return str(value) if value >= 0 else f"({value})"


def shortened(node: ast.ImportFrom, wanted: set[str]) -> str:
    """An import of the names still wanted; empty when there is none."""
    names = [
        alias.name + (f" as {alias.asname}" if alias.asname else "")
        for alias in node.names
        if (alias.asname or alias.name) in wanted
    ]
    return f"from {node.module} import {', '.join(names)}" if names else ""
