"""Terms evaluated on columns: one array per cell, one row per state.

A program is a list of array operations bound to buffers that stay in the processor's cache. It works
through the rows in blocks; buffers are reused once no later operation reads them. Integers are 16 bits
wide where their interval allows, 32 otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from oxlatch_sim.proof.translate_terms import Term, Value, bounds, in_order

Column = NDArray[np.generic]

BLOCK_ROWS = 16384
_UFUNCS = {
    "add": np.add,
    "sub": np.subtract,
    "mul": np.multiply,
    "div": np.floor_divide,
    "and": np.bitwise_and,
    "or": np.bitwise_or,
    "xor": np.bitwise_xor,
    "shl": np.left_shift,
    "shr": np.right_shift,
    "eq": np.equal,
    "lt": np.less,
}


@dataclass(frozen=True)
class Picked:
    """A column made while it is read: row n is `values[index[n]]`, or `values[n]` without an index."""

    values: Column
    index: NDArray[np.intp] | None = None

    def __len__(self) -> int:
        return len(self.values) if self.index is None else len(self.index)


def _width(value: Value) -> type[np.generic]:
    low, high = bounds(value)
    return np.int16 if low >= -(1 << 15) and high < 1 << 15 else np.int32


def _widest(*values: Value) -> type[np.generic]:
    return np.int32 if any(_width(v) is np.int32 for v in values) else np.int16


class ColumnProgram:
    """Evaluates `outputs` (name to term) on columns. `run` is the whole interface."""

    def __init__(self, outputs: Mapping[str, Value], block_rows: int = BLOCK_ROWS) -> None:
        self.outputs = dict(outputs)
        self._rows = block_rows
        self._steps: list[Callable[[], object]] = []
        self._buffers: dict[int, Column] = {}
        self._masks: dict[tuple[int, type[np.generic]], Column] = {}
        self._free: dict[type[np.generic], list[Column]] = {}
        self._inputs: dict[str, Column] = {}
        self._build()

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of the columns that are read."""
        return tuple(self._inputs)

    @property
    def operations(self) -> int:
        """Array operations per block."""
        return len(self._steps)

    def run(self, columns: Mapping[str, Column | Picked]) -> dict[str, Column]:
        """Evaluate all rows. Every input column has the same length; missing ones raise KeyError."""
        rows = len(next(iter(columns.values()))) if columns else 1
        results: dict[str, Column] = {
            name: np.empty(rows, np.bool_ if _is_truth_term(value) else _width(value))
            for name, value in self.outputs.items()
        }
        sources = [(buffer, *self._source(columns[name], buffer)) for name, buffer in self._inputs.items()]
        for start in range(0, rows, self._rows):
            count = min(self._rows, rows - start)
            for buffer, values, index in sources:
                if index is None:
                    buffer[:count] = values[start : start + count]
                else:
                    np.take(values, index[start : start + count], out=buffer[:count], mode="clip")
            for step in self._steps:
                step()
            for name, value in self.outputs.items():
                found = self._buffers[value.number][:count] if isinstance(value, Term) else value
                results[name][start : start + count] = found
        return results

    @staticmethod
    def _source(column: Column | Picked, buffer: Column) -> tuple[Column, NDArray[np.intp] | None]:
        if isinstance(column, Picked) and column.index is not None:
            return column.values.astype(buffer.dtype), column.index
        return (column.values if isinstance(column, Picked) else column), None

    # --- building -----------------------------------------------------------------------------

    def _build(self) -> None:
        order = list(in_order(self.outputs.values()))
        last_use: dict[int, int] = {}
        for at, term in enumerate(order):
            for arg in term.args:
                if isinstance(arg, Term):
                    last_use[arg.number] = at
        for value in self.outputs.values():
            if isinstance(value, Term):
                last_use[value.number] = len(order)
        ending: dict[int, list[Term]] = {}
        for term in order:
            ending.setdefault(last_use[term.number], []).append(term)
        for at, term in enumerate(order):
            self._emit(term)
            for dead in ending.get(at, ()):
                self._release(dead)

    def _take(self, kind: type[np.generic]) -> Column:
        pool = self._free.setdefault(kind, [])
        return pool.pop() if pool else np.zeros(self._rows, kind)

    def _release(self, term: Term) -> None:
        if term.op != "var":
            buffer = self._buffers[term.number]
            self._free.setdefault(buffer.dtype.type, []).append(buffer)
        for kind in (np.int16, np.int32):
            mask = self._masks.pop((term.number, kind), None)
            if mask is not None:
                self._free.setdefault(kind, []).append(mask)

    def _operand(self, value: object) -> object:
        return self._buffers[value.number] if isinstance(value, Term) else int(value)  # type: ignore[call-overload]

    def _emit(self, term: Term) -> None:
        if term.op == "var":
            buffer = np.zeros(self._rows, _width(term))
            self._inputs[str(term.args[0])] = buffer
            self._buffers[term.number] = buffer
            return
        if term.op == "ite":
            self._emit_choice(term)
            return
        out = self._take(np.bool_ if term.truth else _width(term))
        self._buffers[term.number] = out
        args = [self._operand(arg) for arg in term.args]
        if term.op == "not":
            self._steps.append(partial(np.logical_not, *args, out=out))
        elif term.op == "all":
            self._steps.append(partial(np.logical_and, *args, out=out))
        elif term.truth:
            self._steps.append(partial(_UFUNCS[term.op], *args, out=out))
        else:
            kind = _widest(term, *term.args)  # type: ignore[arg-type]
            step = partial(_UFUNCS[term.op], *args, out=out, dtype=kind, casting="same_kind")
            self._steps.append(step)

    def _mask(self, condition: Term, kind: type[np.generic]) -> Column:
        """The condition as all ones or all zeros, kept while the condition is in use."""
        known = self._masks.get((condition.number, kind))
        if known is None:
            known = self._masks[(condition.number, kind)] = self._take(kind)
            ones = self._buffers[condition.number].view(np.int8)
            self._steps.append(partial(np.negative, ones, out=known, dtype=kind))
        return known

    def _emit_choice(self, term: Term) -> None:
        condition, yes, no = term.args
        kind = _widest(term, yes, no)  # type: ignore[arg-type]
        mask = self._mask(condition, kind)  # type: ignore[arg-type]
        out = self._take(_width(term))
        self._buffers[term.number] = out
        emit = partial(partial, dtype=kind, casting="same_kind", out=out)
        if not isinstance(yes, Term) and not isinstance(no, Term):
            self._steps.append(emit(np.bitwise_and, mask, int(yes) ^ int(no)))  # type: ignore[call-overload]
        else:
            self._steps.append(emit(np.bitwise_xor, self._operand(yes), self._operand(no)))
            self._steps.append(emit(np.bitwise_and, out, mask))
        if isinstance(no, Term) or no != 0:
            self._steps.append(emit(np.bitwise_xor, out, self._operand(no)))


def _is_truth_term(value: Value) -> bool:
    return value.truth if isinstance(value, Term) else isinstance(value, bool)
