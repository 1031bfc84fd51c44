"""Expressions of the tick's subset, evaluated on terms."""

from __future__ import annotations

import ast
from types import FunctionType, ModuleType

from oxlatch_sim.proof.translate_cells import (
    Duty,
    Flow,
    Frame,
    Method,
    Operand,
    Row,
    Store,
    Thing,
    is_object,
    is_value,
)
from oxlatch_sim.proof.translate_source import NotInSubset, calls_something
from oxlatch_sim.proof.translate_terms import Space, Value, bounds


class Expressions:
    """Evaluates expressions. The walker of statements builds on it and supplies `_call`."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.store: Store = {}
        self.duties: list[Duty] = []
        self._frames: list[Frame] = []

    def _call(self, function: object, operands: list[Operand], flow: Flow, where: str) -> Operand:
        raise NotImplementedError

    def _where(self, node: ast.AST) -> str:
        return self._frames[-1].source.where(node)

    def _refuse(self, node: ast.AST, what: str) -> NotInSubset:
        return NotInSubset(f"{self._where(node)}: {what}")

    # --- merging ------------------------------------------------------------------------------

    def _merge_store(self, condition: Value, yes: Store, no: Store) -> Store:
        merged = dict(no)
        for name, value in yes.items():
            if value is not no[name]:
                merged[name] = self.space.choose(condition, value, no[name])
        return merged

    def _merge_value(self, condition: Value, yes: Operand, no: Operand, where: str) -> Operand:
        if yes is no:
            return yes
        if is_value(yes) and is_value(no):
            return self.space.choose(condition, yes, no)  # type: ignore[arg-type]
        if yes == no:
            return yes
        raise NotInSubset(f"{where}: the branches give {yes!r} and {no!r}, which cannot be merged")

    # --- expressions --------------------------------------------------------------------------

    def _value(self, node: ast.expr, flow: Flow) -> Value:
        value = self._eval(node, flow)
        if not is_value(value):
            raise self._refuse(node, f"an integer is needed, got {value!r}")
        return value  # type: ignore[return-value]

    def _integer(self, value: Operand, node: ast.AST) -> Value:
        if not is_value(value):
            raise self._refuse(node, f"an integer is needed, got {value!r}")
        return self.space.number(value)  # type: ignore[arg-type]

    def _eval(self, node: ast.expr, flow: Flow) -> Operand:
        match node:
            case ast.Constant(value=bool() | int()):
                return node.value
            case ast.Name(id=name):
                return self._name(name, flow, node)
            case ast.Attribute(attr=name):
                return self._attribute(self._eval(node.value, flow), name, flow, node)
            case ast.Subscript():
                return self._subscript(node, flow)
            case ast.BinOp():
                return self._binary(node.op, self._eval(node.left, flow), self._eval(node.right, flow), flow, node)
            case ast.UnaryOp():
                return self._unary(node, flow)
            case ast.BoolOp():
                return self._boolean(node, flow)
            case ast.Compare():
                return self._compare(node, flow)
            case ast.IfExp():
                return self._either_way(node, flow)
            case ast.Call(keywords=[]):
                found = self._eval(node.func, flow)
                operands = [self._eval(arg, flow) for arg in node.args]
                if isinstance(found, Method):
                    return self._call(found.function, [found.owner, *operands], flow, self._where(node))
                return self._call(found, operands, flow, self._where(node))
            case _:
                raise self._refuse(node, f"expression {type(node).__name__} is not in the subset")

    def _name(self, name: str, flow: Flow, node: ast.AST) -> Operand:
        if name in flow.local:
            return flow.local[name]
        frame = self._frames[-1]
        if name in frame.source.assigned:
            raise self._refuse(node, f"{name} is not set on every way here")
        found = frame.names.get(name)
        if isinstance(found, int | FunctionType | ModuleType | tuple):
            return found
        raise self._refuse(node, f"{name} is neither an integer constant nor a plain function of the module")

    def _attribute(self, owner: Operand, name: str, flow: Flow, node: ast.AST) -> Operand:
        if isinstance(owner, ModuleType) and hasattr(owner, name):
            return getattr(owner, name)
        if not isinstance(owner, Thing):
            raise self._refuse(node, f"{name} of {owner!r} is not in the subset")
        cell = f"{owner.path}.{name}"
        if cell in flow.store:
            return flow.store[cell]
        inner = getattr(owner.sample, name, None)
        if isinstance(inner, list) or is_object(inner):
            return self._view(cell, inner)
        method = getattr(type(owner.sample), name, None)
        if isinstance(method, FunctionType):
            return Method(owner, method)
        raise self._refuse(node, f"{owner.path} has no integer or list {name}")

    def _view(self, path: str, sample: object) -> Operand:
        return Row(path, len(sample)) if isinstance(sample, list) else Thing(path, sample)

    def _index(self, length: int, index: Value, flow: Flow, node: ast.AST) -> Value:
        """An index, shown to lie within its list by its interval or left as a duty."""
        index = self.space.number(index)
        low, high = bounds(index)
        if low < 0 or high >= length:
            if isinstance(index, int):
                raise self._refuse(node, f"index {index} outside 0..{length - 1}")
            inside = self.space.both(self.space.less(-1, index), self.space.less(index, length))
            self._owe(inside, flow, f"{self._where(node)}: index within 0..{length - 1}")
        return index

    def _owe(self, needed: Value, flow: Flow, what: str) -> None:
        """Leave as a duty that something holds wherever the program comes here."""
        if needed is not True:
            here = self.space.both(self._frames[-1].reached, flow.live)
            self.duties.append(Duty(what, self.space.either(self.space.negation(here), needed)))

    def _subscript(self, node: ast.Subscript, flow: Flow) -> Operand:
        row = self._eval(node.value, flow)
        if isinstance(row, Row):
            items: list[Operand] = [flow.store[f"{row.path}[{i}]"] for i in range(row.length)]
        elif isinstance(row, tuple):
            items = list(row)
        else:
            raise self._refuse(node, "only lists and tuples of integers can be indexed")
        index = self._index(len(items), self._value(node.slice, flow), flow, node)
        if isinstance(index, int):
            return items[index]
        result = items[-1]
        for i in range(len(items) - 2, -1, -1):
            result = self._merge_value(self.space.equal(index, i), items[i], result, self._where(node))
        return result

    def _binary(self, op: ast.operator, left: Operand, right: Operand, flow: Flow, node: ast.AST) -> Value:
        a, b = self._integer(left, node), self._integer(right, node)
        match op:
            case ast.Add():
                return self.space.add(a, b)
            case ast.Sub():
                return self.space.subtract(a, b)
            case ast.Mult():
                return self.space.multiply(a, b)
            case ast.FloorDiv():
                self._owe(self.space.less(0, b), flow, f"{self._where(node)}: divisor above zero")
                return self.space.divide(a, b)
            case ast.BitAnd():
                return self.space.bit_and(a, b)
            case ast.BitOr():
                return self.space.bit_or(a, b)
            case ast.BitXor():
                return self.space.bit_xor(a, b)
            case ast.LShift():
                return self.space.shift_left(a, b)
            case ast.RShift():
                return self.space.shift_right(a, b)
            case _:
                raise self._refuse(node, f"operator {type(op).__name__} is not in the subset")

    def _unary(self, node: ast.UnaryOp, flow: Flow) -> Value:
        value = self._value(node.operand, flow)
        match node.op:
            case ast.Not():
                return self.space.negation(self.space.truth(value))
            case ast.USub():
                return self.space.negate(self.space.number(value))
            case ast.Invert():
                return self.space.invert(self.space.number(value))
            case _:
                raise self._refuse(node, f"operator {type(node.op).__name__} is not in the subset")

    def _boolean(self, node: ast.BoolOp, flow: Flow) -> Value:
        result = self._value(node.values[0], flow)
        for operand in node.values[1:]:
            true_now = self.space.truth(result)
            stop = true_now if isinstance(node.op, ast.Or) else self.space.negation(true_now)
            if stop is True:
                return result
            other = self._value_under(self.space.negation(stop), operand, flow)
            result = self.space.choose(stop, result, other)
        return result

    def _value_under(self, condition: Value, node: ast.expr, flow: Flow) -> Value:
        """Evaluate what the program evaluates only when `condition` holds, with what it writes."""
        if condition is True:
            return self._value(node, flow)
        live = flow.live
        flow.live = self.space.both(live, condition)
        before = dict(flow.store) if calls_something(node) else None
        value = self._value(node, flow)
        if before is not None:
            flow.store = self._merge_store(condition, flow.store, before)
        flow.live = live
        return value

    def _either_way(self, node: ast.IfExp, flow: Flow) -> Operand:
        condition = self.space.truth(self._value(node.test, flow))
        if condition is True or condition is False:
            return self._eval(node.body if condition else node.orelse, flow)
        yes = self._value_under(condition, node.body, flow)
        no = self._value_under(self.space.negation(condition), node.orelse, flow)
        return self._merge_value(condition, yes, no, self._where(node))

    def _compare(self, node: ast.Compare, flow: Flow) -> Value:
        result: Value = True
        left = self._value(node.left, flow)
        for op, right_node in zip(node.ops, node.comparators, strict=True):
            right = self._value(right_node, flow)
            result = self.space.both(result, self._relation(op, left, right, node))
            left = right
        return result

    def _relation(self, op: ast.cmpop, a: Value, b: Value, node: ast.AST) -> Value:
        match op:
            case ast.Eq():
                return self.space.equal(a, b)
            case ast.NotEq():
                return self.space.negation(self.space.equal(a, b))
            case ast.Lt():
                return self.space.less(a, b)
            case ast.LtE():
                return self.space.negation(self.space.less(b, a))
            case ast.Gt():
                return self.space.less(b, a)
            case ast.GtE():
                return self.space.negation(self.space.less(a, b))
            case _:
                raise self._refuse(node, f"comparison {type(op).__name__} is not in the subset")
