"""Syntax trees of running functions, parsed once per file text.

The source is looked up the way tracebacks do it, so a module made from a changed text translates as
long as that text is registered under its file name in `linecache`.
"""

from __future__ import annotations

import ast
import linecache
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from os.path import basename


class NotInSubset(ValueError):
    """A construct the translator does not accept; the message names file and line."""


@dataclass(frozen=True, eq=False)
class Source:
    """One function: its parameters, its body, and the names it assigns."""

    name: str
    file: str
    parameters: tuple[str, ...]
    body: tuple[ast.stmt, ...]
    assigned: frozenset[str]

    def where(self, node: ast.AST) -> str:
        """File and line of a node, for messages."""
        return f"{basename(self.file)}:{getattr(node, 'lineno', 0)}"


@lru_cache(maxsize=256)
def _functions(file: str, text: str) -> dict[tuple[str, int], ast.FunctionDef]:
    found: dict[tuple[str, int], ast.FunctionDef] = {}
    for node in ast.walk(ast.parse(text, file)):
        if isinstance(node, ast.FunctionDef):
            found[(node.name, node.lineno)] = node
    return found


@lru_cache(maxsize=1024)
def _source(file: str, text: str, name: str, line: int) -> Source:
    node = _functions(file, text).get((name, line))
    if node is None:
        raise NotInSubset(f"{basename(file)}:{line}: {name} is not a plain function of this file")
    a = node.args
    if node.decorator_list or a.posonlyargs or a.kwonlyargs or a.vararg or a.kwarg or a.defaults:
        raise NotInSubset(f"{basename(file)}:{line}: {name} must have positional parameters only and no decorator")
    assigned = {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    return Source(name, file, tuple(p.arg for p in a.args), tuple(node.body), frozenset(assigned))


def read_function(function: Callable[..., object]) -> Source:
    """The parsed source of a function; an error when its text is not to be had."""
    code = function.__code__
    text = "".join(linecache.getlines(code.co_filename, function.__globals__))
    if not text:
        raise NotInSubset(f"{code.co_filename}: no source text for {code.co_name}")
    return _source(code.co_filename, text, code.co_name, code.co_firstlineno)


@lru_cache(maxsize=65536)
def calls_something(node: ast.AST) -> bool:
    """Whether evaluating an expression may run a function, which may write."""
    return any(isinstance(inner, ast.Call) for inner in ast.walk(node))
