"""The limit memo: the highest clean static step less the builder's derating. It recommends nothing."""

from dataclasses import dataclass

from oxlatch_tools.commissioning.programme_engine import DERATING_LEAST_PERCENT, power_of, static_pattern
from oxlatch_tools.commissioning.results import Standing
from oxlatch_tools.commissioning.step import DEFERENCE
from oxlatch_tools.installation import Installation


class MemoError(ValueError):
    """No memo can be made; the message says what is missing."""


@dataclass(frozen=True)
class Memo:
    """Highest clean pattern, nominal powers (W), derating share, and lines to add to the installation by hand."""

    pattern: tuple[int, ...]
    clean_w: float
    derating: float
    limit_w: float
    within: list[tuple[int, ...]]
    lines: list[str]

    def text(self, installation: Installation) -> str:
        """The memo as printed."""
        name = "+".join(str(number) for number in self.pattern)
        kept = ", ".join("+".join(str(number) for number in pattern) for pattern in self.within) or "none"
        return "\n".join(
            [
                f"LIMIT MEMO, {installation.aircraft.name}, installation {installation.digest}. DRAFT until signed.",
                f"CAUTION: {DEFERENCE}",
                "",
                f"Highest clean static step: stages {name}, {self.clean_w / 1000:.1f} kW nominal over no boost.",
                "No boost: the engine alone. Boost lost: back to the engine alone, at any second.",
                f"Derating chosen by the builder: {self.derating:.0%}.",
                f"Limit of added power that follows: {self.limit_w / 1000:.1f} kW.",
                f"Patterns whose nominal power lies within it: {kept}.",
                "",
                "Lines for the installation, by hand, after reading, in place of its [[tested.patterns]]:",
                *self.lines,
                "",
                "They change the installation. Afterwards: oxlatch plan, flash, the acceptance step again, the step",
                "limits with its signature, then cards; whatever else the change touches is re-opened by itself.",
                "",
                "Signed ______________________   Date ____________",
            ]
        )


def limit_memo(installation: Installation, standings: list[Standing], derating: float) -> Memo:
    """From the passed static runs up to the first that is not.

    Raises MemoError for a derating outside 10 to 90 % or when no static step has passed.
    """
    if not DERATING_LEAST_PERCENT / 100 <= derating <= 0.9:
        least = f"{DERATING_LEAST_PERCENT:.0f} %"
        raise MemoError(f"derating {derating:.0%}; allowed: {least} to 90 %, the builder's choice")
    clean: list[tuple[tuple[int, ...], Standing]] = []
    for standing in standings:
        pattern = static_pattern(standing.step.key)
        if pattern is None:
            continue
        if standing.status != "passed":
            break
        clean.append((pattern, standing))
    if not clean:
        raise MemoError("no static run has passed; the memo needs the smallest step at least")
    top = clean[-1][0]
    clean_w = power_of(installation, top)
    limit_w = (1.0 - derating) * clean_w
    within = [pattern for pattern, _standing in clean if power_of(installation, pattern) <= limit_w]
    lines: list[str] = []
    for pattern, standing in clean:
        if pattern in within and standing.result is not None:
            date = standing.result.date.isoformat()
            lines += ["[[tested.patterns]]", f"stages = {list(pattern)}", f"date = {date}", ""]
    return Memo(top, clean_w, derating, limit_w, within, lines[:-1])

