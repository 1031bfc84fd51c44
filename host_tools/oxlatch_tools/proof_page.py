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


def exhaustive_text(section: dict[str, Any], assumed: list[str]) -> str:
    """The exhaustive section and the abstraction beside it."""
    seen = section["witnesses"]
    lines = [
        "",
        "EXHAUSTIVE  the running code after sense, from every state it can reach, on every verdict it can tell apart",
        f"  states {section['states']:,}  transitions {section['transitions']:,}  depth {section['depth']}  "
        f"{section['seconds']:.1f} s  {section['transitions_per_s']:,} transitions/s on {section['workers']} "
        f"process{'es' if section['workers'] > 1 else ''}",
        f"  digest {section['digest']}; the first {section['digest_transitions']:,} transitions: "
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
        lines.append(_row(verdict, row["name"], f"{row['lemma']} ({row['states']:,} states, {row['transitions']:,} steps)"))
    return "\n".join(lines)


def verdict_text(problems: list[str]) -> str:
    """The last line."""
    if not problems:
        return "\nEverything checked above holds, under what is assumed above."
    return "\nDoes not hold:\n" + "\n".join(_wrap("  " + problem) for problem in problems)


def _row(verdict: str, name: str, words: str) -> str:
    head = f"  {verdict:7}{name:12}"
    return textwrap.fill(head + words, WIDTH, subsequent_indent=" " * len(head))


def _wrap(text: str) -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent="  " if text.startswith(" ") else "")
