"""From the source of the tick to terms.

The walker runs the syntax tree of a function on terms instead of integers. At a branch it runs both
sides and merges what they wrote, so a whole tick becomes one term per state word. An early return
leaves the function with the condition under which it is taken; all the ways out are merged at the
end. Loops over `range` are unrolled, functions are inlined, names of the module are read from the
imported module. Anything else is an error that names file and line.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import FunctionType

from oxlatch_sim.proof.translate_cells import (
    Duty,
    Flow,
    Frame,
    Operand,
    Row,
    Store,
    Thing,
    cells_of,
)
from oxlatch_sim.proof.translate_expressions import Expressions
from oxlatch_sim.proof.translate_source import NotInSubset, read_function
from oxlatch_sim.proof.translate_terms import Space, Term, TermError, Value, bounds

UNROLL_MAX = 64
DEPTH_MAX = 24

Bounds = Mapping[str, tuple[int, int]]


class Translator(Expressions):
    """Runs functions on terms. `store` holds every cell; `duties` collects what is left to prove."""

    def place(self, path: str, sample: object, value_of: Callable[[str], Value]) -> Operand:
        """Give every cell of `sample` a value and return the operand that stands for it."""
        for name, _ in cells_of(path, sample):
            self.store[name] = value_of(name)
        return self.store[path] if isinstance(sample, int) else self._view(path, sample)

    def call(self, function: Callable[..., object], operands: Sequence[Operand]) -> Operand:
        """Run `function` on the present store, keep what it writes and return its result."""
        flow = Flow(self.store, {})
        result = self._call(function, list(operands), flow, "call from outside")
        self.store = flow.store
        return result

    # --- calls --------------------------------------------------------------------------------

    def _call(self, function: object, operands: list[Operand], flow: Flow, where: str) -> Operand:
        if not isinstance(function, FunctionType):
            raise NotInSubset(f"{where}: call of {function!r}, which is not a plain function")
        if len(self._frames) >= DEPTH_MAX:
            raise NotInSubset(f"{where}: calls nest deeper than {DEPTH_MAX}")
        source = read_function(function)
        if len(source.parameters) != len(operands):
            wanted = len(source.parameters)
            raise NotInSubset(f"{where}: {source.name} takes {wanted} parameters, got {len(operands)}")
        reached = self.space.both(self._frames[-1].reached, flow.live) if self._frames else flow.live
        frame = Frame(source, function.__globals__, reached)
        inner = Flow(dict(flow.store), dict(zip(source.parameters, operands, strict=True)))
        self._frames.append(frame)
        self._block(source.body, inner)
        if inner.live is not False:
            frame.exits.append((inner.live, inner.store, None))
        self._frames.pop()
        _, store, result = frame.exits[-1]
        for live, other_store, other_result in reversed(frame.exits[:-1]):
            result = self._merge_value(live, other_result, result, where)
            store = self._merge_store(live, other_store, store)
        flow.store = store
        return result

    # --- statements ---------------------------------------------------------------------------

    def _block(self, statements: Sequence[ast.stmt], flow: Flow) -> None:
        for statement in statements:
            if flow.live is False:
                return
            try:
                self._statement(statement, flow)
            except TermError as problem:
                raise self._refuse(statement, str(problem)) from problem

    def _statement(self, node: ast.stmt, flow: Flow) -> None:
        match node:
            case ast.Pass() | ast.Expr(value=ast.Constant()):
                return
            case ast.Expr(value=ast.Call()):
                self._eval(node.value, flow)
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Tuple(elts=values)) if len(names) == len(values):
                found = [self._eval(value, flow) for value in values]
                for target, one in zip(names, found, strict=True):
                    self._assign(target, one, flow)
            case ast.Assign(targets=targets):
                value = self._eval(node.value, flow)
                for target in targets:
                    self._assign(target, value, flow)
            case ast.AugAssign(target=ast.Name() | ast.Attribute() | ast.Subscript()):
                old = self._eval(node.target, flow)
                new = self._binary(node.op, old, self._eval(node.value, flow), flow, node)
                self._assign(node.target, new, flow)
            case ast.If():
                condition = self.space.truth(self._value(node.test, flow))
                self._branch(condition, node.body, node.orelse, flow, node)
            case ast.Return():
                result = None if node.value is None else self._eval(node.value, flow)
                self._frames[-1].exits.append((flow.live, flow.store, result))
                flow.live = False
            case ast.For():
                self._for(node, flow)
            case _:
                raise self._refuse(node, f"statement {type(node).__name__} is not in the subset")

    def _branch(
        self, condition: Value, yes_body: Sequence[ast.stmt], no_body: Sequence[ast.stmt], flow: Flow, node: ast.AST
    ) -> None:
        if condition is True or condition is False:
            self._block(yes_body if condition else no_body, flow)
            return
        yes = flow.fork(self.space.both(flow.live, condition))
        no = flow.fork(self.space.both(flow.live, self.space.negation(condition)))
        entered = yes.live, no.live
        self._block(yes_body, yes)
        self._block(no_body, no)
        if yes.live is False or no.live is False:
            kept = no if yes.live is False else yes
            flow.store, flow.local, flow.live = kept.store, kept.local, kept.live
            return
        if yes.live is not entered[0] or no.live is not entered[1]:
            flow.live = self.space.either(yes.live, no.live)
        flow.store = self._merge_store(condition, yes.store, no.store)
        flow.local = {
            name: self._merge_value(condition, value, no.local[name], self._where(node))
            for name, value in yes.local.items()
            if name in no.local
        }

    def _for(self, node: ast.For, flow: Flow) -> None:
        call = node.iter
        ranged = isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "range"
        if not isinstance(node.target, ast.Name) or not isinstance(call, ast.Call) or not ranged or node.orelse:
            raise self._refuse(node, "only `for name in range(...)` is in the subset")
        limits = [self.space.number(self._value(arg, flow)) for arg in call.args]
        start, stop = (0, limits[0]) if len(limits) == 1 else (limits[0], limits[1])
        if len(limits) > 2 or not isinstance(start, int):
            raise self._refuse(node, "a range with a step or a computed start is not in the subset")
        highest = bounds(stop)[1]
        if highest - start > UNROLL_MAX:
            raise self._refuse(node, f"a loop of up to {highest - start} rounds, allowed is {UNROLL_MAX}")
        for i in range(start, highest):
            flow.local[node.target.id] = i
            self._branch(self.space.less(i, stop), node.body, [], flow, node)
            if flow.live is False:
                return
        flow.local.pop(node.target.id, None)

    # --- assignment ---------------------------------------------------------------------------

    def _assign(self, target: ast.expr, value: Operand, flow: Flow) -> None:
        match target:
            case ast.Name(id=name):
                flow.local[name] = value
            case ast.Attribute(attr=name):
                thing = self._eval(target.value, flow)
                self._write(f"{thing.path}.{name}" if isinstance(thing, Thing) else name, value, flow, target)
            case ast.Subscript():
                row = self._eval(target.value, flow)
                if not isinstance(row, Row):
                    raise self._refuse(target, "only lists of integers can be indexed")
                index = self._index(row.length, self._value(target.slice, flow), flow, target)
                if isinstance(index, int):
                    self._write(f"{row.path}[{index}]", value, flow, target)
                    return
                for i in range(row.length):
                    cell = f"{row.path}[{i}]"
                    chosen = self.space.equal(index, i)
                    flow.store[cell] = self.space.choose(chosen, self._integer(value, target), flow.store[cell])
            case _:
                raise self._refuse(target, f"assignment to {type(target).__name__} is not in the subset")

    def _write(self, cell: str, value: Operand, flow: Flow, node: ast.AST) -> None:
        if cell not in flow.store:
            raise self._refuse(node, f"there is no integer {cell} to assign to")
        flow.store[cell] = self._integer(value, node)


@dataclass
class Translation:
    """One function as terms: what goes in, what every cell holds afterwards, what it returns."""

    space: Space
    inputs: dict[str, Value]
    outputs: Store
    result: Value | None
    duties: list[Duty]


def translate(
    function: Callable[..., object],
    arguments: Sequence[tuple[str, object]],
    ranges: Callable[[str], tuple[int, int]],
    space: Space | None = None,
) -> Translation:
    """Translate one call. `arguments` are (name, example object) in parameter order.

    `ranges` gives lowest and highest value of each input cell; equal bounds make it a constant, so
    fixed settings shrink the result. Raises NotInSubset naming file and line.
    """
    walker = Translator(space if space is not None else Space())

    def value_of(cell: str) -> Value:
        low, high = ranges(cell)
        return walker.space.variable(cell, low, high)

    operands = [walker.place(path, sample, value_of) for path, sample in arguments]
    inputs = dict(walker.store)
    result = walker.call(function, operands)
    returned = result if isinstance(result, int | Term) else None
    return Translation(walker.space, inputs, walker.store, returned, walker.duties)
