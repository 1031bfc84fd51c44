"""The proof as text for people: what was shown, and in the same breath what was assumed."""

import textwrap
from typing import Any

WIDTH = 110


def opening(firmware: str, stages: int) -> str:
    """What is about to be proved."""
    return _wrap(
        f"Proving firmware {firmware}, {stages} stage{'s' if stages > 1 else ''}. The claims are about the commands "
        "that leave the controller, not about valves, lines or an engine."
    )


def symbolic_text(section: dict[str, Any]) -> str:
    """The symbolic section: claims by system, and what they assume."""
    lines = [
        "",
        "SYMBOLIC  the source of one tick as a formula: every settings record, every state the invariants allow,",
        "          every input",
        f"  claims {len(section['claims'])}  strengthenings {len(section['strengthenings'])}  "
        f"{section['seconds']:.0f} s of one core",
        f"  the formula agrees with the running code on {section['translator_checked']:,} random ticks; differing: "
        f"{section['translator_differing']}",
    ]
    lines += [
        _row("proved" if row["proved"] else "BROKEN", row["invariant"] or "-", row["words"])
        for row in section["claims"]
        if row["invariant"] or not row["proved"]
    ]
    for row in section["claims"]:
        if row["counterexample"]:
            lines.append(f"  counterexample to {row['name']}: {row.get('recording', 'not written')}")
            lines += [f"    {text}" for text in row["counterexample"]["words"]]
    lines.append("  assumed:")
    for text in dict.fromkeys(text for row in section["claims"] for text in row["assumptions"]):
        lines.append(textwrap.fill(text, WIDTH, initial_indent="    - ", subsequent_indent="      "))
    return "\n".join(lines)


def alive_text(section: dict[str, Any]) -> str:
    """Liveness: bounds in ticks of the small settings."""
    lines = [
        "",
        "ALIVE  from every explored state, with an obedient plant",
        f"  a push delivers all selected stages within {section['delivered_in']} small ticks; "
        f"{section['deliveries']:,} tried",
        f"  every state comes back to READY within {section['recovered_in']} small ticks; "
        f"{section['recoveries']:,} tried, {section['settings_bad']:,} with bad settings need good ones and a reset",
        f"  constant inputs settle; {section['steady_runs']:,} tried, swinging for ever: {len(section['swinging'])}",
        _wrap(f"  the stated recovery: {section['recovery']}"),
    ]
    return "\n".join(lines)


def reference_text(section: dict[str, Any]) -> str:
    """Lockstep with the second specification."""
    rarest = ", ".join(f"{name} {hits:,}" for name, hits in section["rarest"])
    lines = [
        "",
        "REFERENCE  a second specification, written from the requirements alone, in lockstep with the running code",
        f"  ticks {section['steps']:,}  differences {section['mismatches']}  rows of the table {section['rows']}, "
        f"never used {len(section['rows_never_used'])}",
        _wrap(f"  rarest rows: {rarest}"),
    ]
    if section["first_mismatch"]:
        lines.append(section["first_mismatch"])
    return "\n".join(lines)


def opinion_text(section: dict[str, Any]) -> str:
    """What the second tool said."""
    said = "confirmed over all paths" if section["confirmed"] else "NOT CONFIRMED"
    head = "SECOND OPINION  the gate's function of one stage, by an unrelated tool"
    return f"\n{head}: {said}, {section['seconds']:.0f} s"


def outside_text(section: dict[str, Any]) -> str:
    """What a general model checker says of the reduced model, beside what we say."""
    lines = [
        "",
        f"OUTSIDE CHECK  a reduced model, one stage and {section['letters']} letters, by {section['tool']}",
        f"  states {section['states_outside']:,}, ours {section['states']:,}  steps with the reset "
        f"{section['transitions_outside']:,}, ours {section['transitions'] + 1:,}  "
        f"{'the same' if section['same'] else 'NOT THE SAME'}, {section['seconds']:.1f} s",
        f"  the model agrees with the running code on {section['compared']:,} ticks, every state with every letter; "
        f"differing: {', '.join(section['differing']) or 'none'}",
    ]
    broken = section["broken_outside"]
    for name, words in section["properties"].items():
        lines.append(_row("BROKEN" if name == broken else "-" if broken else "holds", "", words))
    lines += [
        _wrap(
            f"  seeded bug, {bug['words']}: found after {bug['ticks_outside']} ticks ({bug['property_outside']}), "
            f"ours after {bug['ticks']} ({bug['claim']})"
        )
        for bug in section["bugs"]
    ]
    lines += [f"  the model in Promela: {section['model']}", "  assumed:"]
    for text in section["assumed"]:
        lines.append(textwrap.fill(text, WIDTH, initial_indent="    - ", subsequent_indent="      "))
    return "\n".join(lines)


def mutants_text(section: dict[str, Any]) -> str:
    """Which argument killed how many."""
    killed = ", ".join(f"{name} {count}" for name, count in section["killed_by"].items())
    part = "all of them" if section["share"] == 1 else f"the gate's and {section['share']:.0%} of the rest"
    lines = [
        "",
        f"MUTANTS  one small change each to the source of the tick; {part}",
        f"  judged {section['total']}  killed by {killed}  explained {section['equivalent']}  alive "
        f"{len(section['survived'])}  {section['seconds']:.0f} s",
    ]
    lines += [_wrap(f"  alive: {one['where']} {one['before']} -> {one['after']}") for one in section["survived"]]
    return "\n".join(lines)


def fitted_pairs_text(section: dict[str, Any]) -> str:
    """How many combinations, and each with what it leaves out."""
    lines = [
        "",
        f"FITTED PAIRS  {len(section['flags'])} optional inputs and valves, every pair of them fitted or not: "
        f"{section['pairs']} pairs",
        f"  in {section['combinations']} combinations of one stage, the claims and witnesses checked in each: "
        f"{section['states']:,} states, {section['transitions']:,} transitions, {section['seconds']:.0f} s",
    ]
    for row in section["rows"]:
        verdict = "holds" if not row["problems"] else "BROKEN"
        without = ", ".join(name.replace("_", " ") for name in row["without"]) or "nothing"
        lines.append(_row(verdict, f"{row['fitted']:07x}", f"without {without} ({row['transitions']:,} transitions)"))
    return "\n".join(lines)


def explain_text(found: dict[str, Any]) -> str:
    """Why one invariant holds."""
    lines = [_wrap(f"{found['id']}  {found['words']}"), ""]
    for guard in found["guards"]:
        lines.append(f"{guard['layer']}  {guard['where']}  {guard['text']}")
        lines.append(textwrap.fill(guard["words"], WIDTH, initial_indent="    ", subsequent_indent="    "))
    lines += ["", _wrap(f"Hardware: {found['hardware']}"), _wrap(f"Left open: {found['open']}")]
    return "\n".join(lines)


def what_if_text(found: dict[str, Any]) -> str:
    """What a missing line lets happen, step by step: in the whole controller, and in the gate alone."""
    lines = [_wrap(f"Without {found['where']}: {found['gone']}"), _wrap(f"what is left: {found['left']}"), ""]
    if found["claim"]:
        lines.append(_wrap(f"BROKEN {found['claim']}  {found['words']}"))
        lines += [f"  {text}" for text in found["lines"]]
        lines.append(f"  recording {found['recording']}")
    else:
        lines.append("The whole controller still keeps every claim: another line holds it too.")
    for row in found["gate_examples"]:
        lines += ["", _wrap(f"BROKEN in the gate alone, whatever asks it: {row['words']}")]
        lines += [_wrap(f"  {text}") for text in row["steps"]]
        lines.append(f"  recording {row['recording']}")
    return "\n".join(lines)


def exhaustive_text(section: dict[str, Any], assumed: list[str]) -> str:
    """The exhaustive section and the abstraction beside it."""
    seen = section["witnesses"]
    lines = [
        "",
        "EXHAUSTIVE  the running code after sense, from every state it can reach, on every verdict it can tell apart",
        f"  states {section['states']:,}  unique {section['unique']:,}  transitions {section['transitions']:,}  "
        f"depth {section['depth']}",
        f"  {section['seconds']:.1f} s on {section['workers']} process{'es' if section['workers'] > 1 else ''}: "
        f"{section['states_per_s']:,} states/s, {section['transitions_per_s']:,} transitions/s",
        f"  digest {section['digest']}; the first {section['shared']['transitions']:,} transitions: "
        f"on columns {section['shared']['digest_columns']}, by running the code {section['shared']['digest_running']}",
        f"  the first {section['digest_transitions']:,} transitions state by state: "
        f"CPython {section['digest_cpython']}, MicroPython {section['digest_micropython'] or 'not installed here'}",
        f"  witnesses: {seen['states']} states, {seen['transitions']} transitions, {seen['reasons']} reasons, "
        f"{seen['lamps']} lamp patterns; not visited: {', '.join(section['unvisited']) or 'none'}",
        f"  audit: {section['audit']['trials']:,} random whole verdict vectors, {section['audit']['misses']} missed",
    ]
    lines += [_row("holds" if row["holds"] else "BROKEN", row["name"], row["words"]) for row in section["claims"]]
    for name, example in section["counterexamples"].items():
        lines.append(f"  counterexample to {name}: {example['recording'] or 'not written'}")
        lines += [f"    {line}" for line in example["lines"]]
    lines.append("  assumed:")
    lines += [textwrap.fill(text, WIDTH, initial_indent="    - ", subsequent_indent="      ") for text in assumed]
    return "\n".join(lines)


def channels_text(rows: list[dict[str, Any]]) -> str:
    """One line per sense channel."""
    lines = ["", "CHANNELS  each channel of sense alone, on representative samples, to a fixpoint"]
    for row in rows:
        verdict = "holds" if not row["broken"] else "BROKEN"
        size = f"{row['states']:,} states, {row['transitions']:,} steps"
        lines.append(_row(verdict, row["name"], f"{row['lemma']} ({size})"))
    return "\n".join(lines)


def verdict_text(
    problems: list[str], without_mutants: bool = False, without_outside: bool = False, without_pairs: bool = False
) -> str:
    """The last lines: the verdict, and what was not asked."""
    if not problems:
        asked = " Mutants were not judged: --mutants asks for that." if without_mutants else ""
        asked += " No outside model checker was asked: --outside does that." if without_outside else ""
        asked += " Everything was taken as fitted: --fitted-pairs tries combinations." if without_pairs else ""
        return "\n" + _wrap(f"Everything checked above holds, under what is assumed above.{asked}")
    return "\nDoes not hold:\n" + "\n".join(_wrap("  " + problem) for problem in problems)


def _row(verdict: str, name: str, words: str) -> str:
    head = f"  {verdict:7}{name:12}"
    return textwrap.fill(head + words, WIDTH, subsequent_indent=" " * len(head))


def _wrap(text: str) -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent="  " if text.startswith(" ") else "")
