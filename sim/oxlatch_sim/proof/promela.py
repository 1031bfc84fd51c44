"""The reduced model in Promela, the language of the model checker spin.

One tick is one atomic step: a level is picked for every input, then all words after the tick are computed from
those before it, the properties are asserted, and the words take their new values. Picked levels are
put back to zero, so a stored state of the checker is a state of our explorer and nothing else. Temporaries are
`hidden`, which keeps them out of the stored state.

The age of the oxidizer and the three assertions are written here by hand, and again in `ReducedSpace.judge`:
two statements of one property, which the counts of states compare.
"""

from collections.abc import Iterator

from oxlatch.vocabulary import OUT_PURGE
from oxlatch_sim.proof.reduced_model import INPUTS, Relation, pick_name, reduced, relation
from oxlatch_sim.proof.translate_terms import Term, Value, bounds, in_order

STEPS_PER_TICK = len(INPUTS) + 2
"""Steps of the checker in one tick: one for every input that is picked, one for the tick, one round the loop."""
PROVED = ("oxidizer", "rail live, proved")
PROPERTIES = {
    "fuel_alone": "fuel is driven only with its oxidizer, and that proved",
    "lead_short": "fuel is driven only after its oxidizer has been driven for the whole lead",
    "purge_in_flow": "the purge valve is never driven with a stage valve",
}
"""What would be wrong, as the text names it, and what is asserted instead."""
INLINE_MAX = 120
"""Characters up to which an expression that is used once is written where it is used."""

_OPERATORS = {
    "add": "+", "sub": "-", "mul": "*", "div": "/", "and": "&", "or": "|", "xor": "^", "shl": "<<", "shr": ">>", "eq": "==", "lt": "<",
    "all": "&&",
}  # fmt: skip


def promela(model: Relation) -> str:
    """The whole model as Promela text."""
    lines = ["/* Generated from the firmware's source; see reduced_model.py and promela.py. */", ""]
    lines += [f"#define LEAD {model.lead_ticks}", f"#define OUT_PURGE {OUT_PURGE}", f"#define PROVED ({_proved()})", ""]
    lines += _declarations(model)
    temporaries, names = _temporaries(model)
    computed = {cell: names(value) for cell, value in model.after.items()}
    lines += ["", *(f"hidden int {name};" for name in [name for name, _text in temporaries])]
    lines += [f"hidden int next_{_name(cell)};" for cell in model.after]
    lines += [f"hidden int {name};" for name in PROPERTIES]
    lines += ["", "active proctype controller() {", "  do", "  :: atomic {"]
    for name, levels in INPUTS:
        lines.append("    if")
        lines += [f"    :: {_name(pick_name(name))} = {n}  /* {words} */" for n, (words, _, _) in enumerate(levels)]
        lines.append("    fi;")
    lines.append("    d_step {")
    body = [f"{name} = {text};" for name, text in temporaries]
    body += [f"next_{_name(cell)} = {text};" for cell, text in computed.items()]
    body += _properties()
    body += [f"{_name(cell)} = next_{_name(cell)};" for cell in model.ranges]
    body += [f"{_name(pick_name(name))} = 0;" for name, _ in INPUTS]
    lines += [f"      {text}" for text in body]
    return "\n".join([*lines, "    }", "  }", "  od", "}", ""])


def _name(cell: str) -> str:
    """A word's name in Promela."""
    return cell.replace(".", "_").replace("[", "_").replace("]", "")


def _proved() -> str:
    wanted, level = PROVED
    levels = [words for words, _, _ in dict(INPUTS)[wanted]]
    return f"{_name(pick_name(wanted))} == {levels.index(level)}"


def _properties() -> Iterator[str]:
    ox, fuel, bits = ("next_" + _name(f"out.{name}") for name in ("ox", "fuel", "bits"))
    yield f"fuel_alone = ({fuel} && !({ox} && PROVED));"
    yield f"lead_short = ({fuel} && age < LEAD);"
    yield f"purge_in_flow = (({bits} & OUT_PURGE) && ({ox} || {fuel}));"
    for name in PROPERTIES:
        yield f"assert(!{name});"
    yield f"age = ({ox} -> (age < LEAD -> age + 1 : LEAD) : 0);"


def _declarations(model: Relation) -> Iterator[str]:
    for name, levels in INPUTS:
        yield f"byte {_name(pick_name(name))};  /* {name}: 0..{len(levels) - 1} */"
    yield "byte age;  /* ticks in a row that oxidizer was driven, up to the lead */"
    for cell, (low, high) in model.ranges.items():
        after_low, after_high = bounds(model.after[cell])
        kind = "byte" if min(low, after_low) >= 0 and max(high, after_high) <= 255 else "int"
        yield f"{kind} {_name(cell)} = {model.reset[cell]};"


class _Names:
    """Expressions of terms: short ones that are used once in place, all others by the name of a temporary."""

    def __init__(self) -> None:
        self.of: dict[int, str] = {}

    def __call__(self, value: Value) -> str:
        if isinstance(value, Term):
            return self.of[value.number]
        return str(int(value)) if value >= 0 else f"({int(value)})"


def _temporaries(model: Relation) -> tuple[list[tuple[str, str]], _Names]:
    """Temporaries in the order in which they are computed, and the text that stands for each term."""
    order = list(in_order(model.after.values()))
    uses: dict[int, int] = {}
    for term in order:
        for arg in term.args:
            if isinstance(arg, Term):
                uses[arg.number] = uses.get(arg.number, 0) + 1
    names = _Names()
    found: list[tuple[str, str]] = []
    for term in order:
        text = _expression(term, names)
        if term.op != "var" and (uses.get(term.number, 0) > 1 or len(text) > INLINE_MAX):
            name = f"t{len(found)}"
            found.append((name, text))
            text = name
        names.of[term.number] = text
    return found, names


def _expression(term: Term, names: _Names) -> str:
    """One operation; its operands are named already. Raises KeyError for an operation Promela has no sign for."""
    if term.op == "var":
        return _name(str(term.args[0]))
    args = [names(arg) for arg in term.args]  # type: ignore[arg-type]
    if term.op == "not":
        return f"!{args[0]}"
    if term.op == "ite":
        return f"({args[0]} -> {args[1]} : {args[2]})"
    return f"({args[0]} {_OPERATORS[term.op]} {args[1]})"


if __name__ == "__main__":
    print(promela(relation(reduced())), end="")
