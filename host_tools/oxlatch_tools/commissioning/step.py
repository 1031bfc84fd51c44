"""What one test of the programme is made of."""

from dataclasses import dataclass

DEFERENCE = (
    "The engine maker, the propeller maker, the gas supplier, local rules and licensed practice come first; "
    "this sheet is a draft to be checked by them."
)


@dataclass(frozen=True)
class Measure:
    """One thing to measure: key, words, unit, and the limits within which it passes (None: no limit)."""

    key: str
    words: str
    unit: str = ""
    low: float | None = None
    high: float | None = None

    def allows(self, value: float) -> bool:
        """Whether the value lies within the limits."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)

    @property
    def allowed(self) -> str:
        """The limits in words."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is None and self.high is None:
            return "to be noted"
        if self.low == self.high:
            return f"{self.low:.4g}{unit}"
        if self.low is None:
            return f"at most {self.high:.4g}{unit}"
        if self.high is None:
            return f"at least {self.low:.4g}{unit}"
        return f"{self.low:.4g} to {self.high:.4g}{unit}"


@dataclass(frozen=True)
class Step:
    """One test: why, with what, what can hurt, what to do, what to measure, when to stop.

    `sections` are the sections of the installation file whose change re-opens it; so does a change of the settings
    that the controller gets when `of_settings`, and of its firmware when `of_firmware`.
    """

    key: str
    title: str
    purpose: str
    set_up: tuple[str, ...]
    cautions: tuple[str, ...]
    actions: tuple[str, ...]
    measures: tuple[Measure, ...]
    stop_rules: tuple[str, ...]
    sections: tuple[str, ...]
    of_firmware: bool = False
    of_settings: bool = False
