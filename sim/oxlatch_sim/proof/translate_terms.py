"""Terms: what one tick computes, as a graph of integer and truth operations.

A `Space` makes terms, shares equal ones, folds constants and keeps for every integer term an
interval that holds whenever the declared intervals of the variables hold. The intervals show that
nothing overflows a small integer, choose the width of bit-vectors and columns, and decide
comparisons that cannot go both ways.

Integers are mathematical integers, as in Python; shifts by a negative amount do not occur because
the interval of every shift amount is checked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

WORD_LOW = -(1 << 31)
WORD_HIGH = (1 << 31) - 1
SHIFT_LIMIT = 31


class Term:
    """One node of the graph. Truth terms have `truth` set and the interval 0..1."""

    __slots__ = ("args", "high", "low", "number", "op", "truth")

    def __init__(self, op: str, args: tuple[object, ...], low: int, high: int, truth: bool, number: int) -> None:
        self.op = op
        self.args = args
        self.low = low
        self.high = high
        self.truth = truth
        self.number = number

    def __repr__(self) -> str:
        return f"<{self.op} #{self.number} {self.low}..{self.high}>"

    def __bool__(self) -> bool:
        raise TypeError("a term has no single truth value; use the operations of its space")


Value = int | Term


class TermError(ValueError):
    """An operation that no declared interval can justify, such as a word beyond 32 bits."""


def bounds(value: Value) -> tuple[int, int]:
    """Lowest and highest value an integer or truth value can have."""
    if isinstance(value, Term):
        return value.low, value.high
    return int(value), int(value)


def is_truth(value: Value) -> bool:
    """Whether a value is a truth value rather than an integer."""
    return value.truth if isinstance(value, Term) else isinstance(value, bool)


def _mask_over(high: int) -> int:
    return (1 << high.bit_length()) - 1


class Space:
    """Maker of terms. One space per translation; terms of two spaces must not be mixed."""

    def __init__(self) -> None:
        self._shared: dict[tuple[object, ...], Term] = {}
        self.variables: dict[str, Term] = {}

    @property
    def size(self) -> int:
        """How many terms have been made."""
        return len(self._shared) + len(self.variables)

    def variable(self, name: str, low: int, high: int) -> Value:
        """The integer variable `name`, known to lie within low..high; a constant when they are equal."""
        if low == high:
            return low
        known = self.variables.get(name)
        if known is None:
            known = Term("var", (name,), low, high, False, len(self._shared) + len(self.variables))
            self.variables[name] = known
        elif (known.low, known.high) != (low, high):
            raise TermError(f"{name} declared as {known.low}..{known.high} and as {low}..{high}")
        return known

    def _make(self, op: str, args: tuple[Value, ...], low: int, high: int, truth: bool = False) -> Value:
        if low == high:
            return bool(low) if truth else low
        if low < WORD_LOW or high > WORD_HIGH:
            raise TermError(f"{op} may reach {low}..{high}, beyond a 32-bit word")
        key = (op, *[(a.number if isinstance(a, Term) else ("k", int(a))) for a in args])
        known = self._shared.get(key)
        if known is None:
            known = Term(op, args, low, high, truth, len(self._shared) + len(self.variables))
            self._shared[key] = known
        return known

    # --- integers -----------------------------------------------------------------------------

    def number(self, value: Value) -> Value:
        """A truth value as 0 or 1; integers unchanged."""
        return self.choose(value, 1, 0) if is_truth(value) else value

    def add(self, a: Value, b: Value) -> Value:
        """a + b."""
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if (bl, bh) == (0, 0):
            return a
        if (al, ah) == (0, 0):
            return b
        return self._make("add", (a, b), al + bl, ah + bh)

    def subtract(self, a: Value, b: Value) -> Value:
        """a - b."""
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if (bl, bh) == (0, 0):
            return a
        if a is b:
            return 0
        return self._make("sub", (a, b), al - bh, ah - bl)

    def bit_and(self, a: Value, b: Value) -> Value:
        """a & b."""
        if not isinstance(a, Term) and not isinstance(b, Term):
            return int(a) & int(b)
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if al >= 0 and bl >= 0:
            if not isinstance(a, Term):
                a, b, ah, bh = b, a, bh, ah
            if not isinstance(b, Term):
                bh &= _mask_over(ah)
                if bh == _mask_over(ah):
                    return a
            low, high = 0, min(ah, bh)
        elif al >= 0 or bl >= 0:
            low, high = 0, ah if al >= 0 else bh
        else:
            low, high = -(1 << max((-al - 1).bit_length(), (-bl - 1).bit_length())), max(ah, bh)
        return self._make("and", (a, b), low, high)

    def bit_or(self, a: Value, b: Value) -> Value:
        """a | b."""
        return self._or_like("or", a, b)

    def bit_xor(self, a: Value, b: Value) -> Value:
        """a ^ b."""
        return self._or_like("xor", a, b)

    def _or_like(self, op: str, a: Value, b: Value) -> Value:
        if not isinstance(a, Term) and not isinstance(b, Term):
            return int(a) | int(b) if op == "or" else int(a) ^ int(b)
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if (bl, bh) == (0, 0):
            return a
        if (al, ah) == (0, 0):
            return b
        reach = max(x.bit_length() if x >= 0 else (-x - 1).bit_length() for x in (al, ah, bl, bh))
        high = (1 << reach) - 1
        low = -(1 << reach) if al < 0 or bl < 0 else (max(al, bl) if op == "or" else 0)
        return self._make(op, (a, b), low, high)

    def invert(self, a: Value) -> Value:
        """~a."""
        low, high = bounds(a)
        return self._make("sub", (-1, a), -high - 1, -low - 1)

    def negate(self, a: Value) -> Value:
        """-a."""
        return self.subtract(0, a)

    def multiply(self, a: Value, b: Value) -> Value:
        """a * b, one of them a constant."""
        if isinstance(a, Term) and isinstance(b, Term):
            raise TermError("a product of two variables; one factor must be a constant")
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        corners = [al * bl, al * bh, ah * bl, ah * bh]
        return self._make("mul", (a, b), min(corners), max(corners))

    def divide(self, a: Value, b: Value) -> Value:
        """a // b for a >= 0 and b > 0. A divisor that may be zero counts as 1 there; who asks shows that it is not."""
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if al < 0 or bl < 0:
            raise TermError(f"division of {al}..{ah} by {bl}..{bh}; neither may be negative")
        if bl == 0:
            b = self.choose(self.equal(b, 0), 1, b)
        return self._make("div", (a, b), al // max(bh, 1), ah // max(bl, 1))

    def shift_left(self, a: Value, b: Value) -> Value:
        """a << b; the amount must lie within 0..31."""
        self._check_shift(b)
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        corners = [al << bl, al << bh, ah << bl, ah << bh]
        return self._make("shl", (a, b), min(corners), max(corners))

    def shift_right(self, a: Value, b: Value) -> Value:
        """a >> b, towards minus infinity; the amount must lie within 0..31."""
        self._check_shift(b)
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        corners = [al >> bl, al >> bh, ah >> bl, ah >> bh]
        return a if (bl, bh) == (0, 0) else self._make("shr", (a, b), min(corners), max(corners))

    def _check_shift(self, amount: Value) -> None:
        low, high = bounds(amount)
        if low < 0 or high > SHIFT_LIMIT:
            raise TermError(f"shift by {low}..{high}; allowed is 0..{SHIFT_LIMIT}")

    # --- truth --------------------------------------------------------------------------------

    def truth(self, value: Value) -> Value:
        """Whether a value counts as true."""
        return value if is_truth(value) else self.negation(self.equal(value, 0))

    def equal(self, a: Value, b: Value) -> Value:
        """a == b for integers."""
        a, b = self.number(a), self.number(b)
        if a is b:
            return True
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if ah < bl or bh < al:
            return False
        if al == ah == bl == bh:
            return True
        if not isinstance(a, Term) or (isinstance(b, Term) and a.number > b.number):
            a, b = b, a
        if isinstance(a, Term) and a.op == "ite" and not isinstance(b, Term):
            condition, yes, no = a.args
            if not isinstance(yes, Term) and not isinstance(no, Term):
                if b == yes:
                    return condition  # type: ignore[return-value]
                return self.negation(condition) if b == no else False  # type: ignore[arg-type]
        return self._make("eq", (a, b), 0, 1, True)

    def less(self, a: Value, b: Value) -> Value:
        """a < b for integers."""
        a, b = self.number(a), self.number(b)
        (al, ah), (bl, bh) = bounds(a), bounds(b)
        if ah < bl:
            return True
        if al >= bh or a is b:
            return False
        return self._make("lt", (a, b), 0, 1, True)

    def negation(self, a: Value) -> Value:
        """not a, for a truth value."""
        if not isinstance(a, Term):
            return not a
        if a.op == "not":
            return a.args[0]  # type: ignore[return-value]
        return self._make("not", (a,), 0, 1, True)

    def both(self, a: Value, b: Value) -> Value:
        """a and b, for truth values."""
        if not isinstance(a, Term):
            return b if a else False
        if not isinstance(b, Term):
            return a if b else False
        if a is b:
            return a
        if self.negation(a) is b:
            return False
        return self._make("all", (a, b) if a.number < b.number else (b, a), 0, 1, True)

    def either(self, a: Value, b: Value) -> Value:
        """a or b, for truth values."""
        return self.negation(self.both(self.negation(a), self.negation(b)))

    def choose(self, condition: Value, yes: Value, no: Value) -> Value:
        """yes if condition else no; both integers or both truth values."""
        if not isinstance(condition, Term):
            return yes if condition else no
        if yes is no:
            return yes
        if is_truth(yes) and is_truth(no):
            if not isinstance(yes, Term):
                return self.either(condition, no) if yes else self.both(self.negation(condition), no)
            if not isinstance(no, Term):
                return self.either(self.negation(condition), yes) if no else self.both(condition, yes)
            return self.either(self.both(condition, yes), self.both(self.negation(condition), no))
        yes, no = self.number(yes), self.number(no)
        if condition.op == "not":
            condition, yes, no = condition.args[0], no, yes  # type: ignore[assignment]
        if isinstance(yes, Term) and yes.op == "ite" and yes.args[0] is condition:
            yes = yes.args[1]  # type: ignore[assignment]
        if isinstance(no, Term) and no.op == "ite" and no.args[0] is condition:
            no = no.args[2]  # type: ignore[assignment]
        if yes is no or (not isinstance(yes, Term) and not isinstance(no, Term) and yes == no):
            return yes
        (yl, yh), (nl, nh) = bounds(yes), bounds(no)
        return self._make("ite", (condition, yes, no), min(yl, nl), max(yh, nh))

    def every(self, values: Iterable[Value]) -> Value:
        """All of the truth values."""
        result: Value = True
        for value in values:
            result = self.both(result, value)
        return result


def in_order(roots: Iterable[Value]) -> Iterator[Term]:
    """Every term below the roots, each once, operands before their users."""
    seen: set[int] = set()
    stack: list[tuple[Term, bool]] = [(root, False) for root in roots if isinstance(root, Term)]
    stack.reverse()
    while stack:
        term, ready = stack.pop()
        if ready:
            yield term
        elif term.number not in seen:
            seen.add(term.number)
            stack.append((term, True))
            stack.extend((arg, False) for arg in reversed(term.args) if isinstance(arg, Term))


def words_of(roots: Sequence[Value]) -> tuple[list[str], list[int]]:
    """The variables below the roots, and for each root which of them stand below it, one bit each."""
    bit_of: dict[str, int] = {}
    below: dict[int, int] = {}
    for term in in_order(roots):
        if term.op == "var":
            below[term.number] = 1 << bit_of.setdefault(str(term.args[0]), len(bit_of))
        else:
            mask = 0
            for arg in term.args:
                if isinstance(arg, Term):
                    mask |= below[arg.number]
            below[term.number] = mask
    return list(bit_of), [below[root.number] if isinstance(root, Term) else 0 for root in roots]
