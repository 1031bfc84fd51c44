"""One static engine run against its rules: go on, repeat, or stop and go back one step.

The log is laid over the controller's recording by the one event both saw: the detent contact closing.
The recording then says when every stage flowed; the means before and while it did are compared.
"""

import math
import statistics
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from oxlatch.vocabulary import TICK_MS
from oxlatch_sim.recording import Recording
from oxlatch_tools.commissioning.logger import Log

Verdict = Literal["go on", "repeat", "stop, go back one step"]
BEFORE_S = 2.0  # length of the window before the event
SETTLE_S = 0.5  # left out after the last stage opened, for sensors to follow
LEAST_FLOW_S = 1.0
BORE_MODE = 1.841  # first circumferential mode of a cylinder: root of the derivative of the Bessel function J1
SINGLE = ("thrust", "knock", "rpm", "manifold", "fuel_pressure", "bottle_pressure")
GAS_SOUND_M_S = 970.0  # burnt gas near its peak, from memory


class RunError(ValueError):
    """A run cannot be judged; the message says what is missing and where."""


@dataclass(frozen=True)
class Rules:
    """Limits of one run. All are judgement, to be replaced by the builder's own; None: not judged, and said so."""

    knock_counts: float = 0.0
    exhaust_spread_k: float = 60.0
    head_rise_k: float = 30.0
    manifold_dip_pa: float = 5_000.0
    fuel_dip_share: float = 0.08
    bottle_least_pa: float | None = None
    speed_low_rpm: float | None = None
    speed_high_rpm: float | None = None
    repeat_share: float = 0.10
    longest_gap_s: float = 0.2


@dataclass
class Run:
    """What one run showed. Values that the log does not carry are None and listed in `not_logged`."""

    flow_s: float
    offset_s: float
    opened_s: float = 0.0  # last stage's fuel open, after the detent event
    thrust_before_n: float | None = None
    thrust_gain_n: float | None = None
    knock_counts: float | None = None
    exhaust_spread_k: float | None = None
    head_rise_k: float | None = None
    manifold_dip_pa: float | None = None
    speed_low_rpm: float | None = None
    speed_high_rpm: float | None = None
    fuel_dip_share: float | None = None
    bottle_least_pa: float | None = None
    gap_s: float = 0.0
    not_logged: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Judgement:
    """Verdict of a step with every rule that fired and what was not judged."""

    verdict: Verdict
    fired: list[str]
    not_judged: list[str]


def bore_resonance_hz(bore_m: float, sound_m_s: float = GAS_SOUND_M_S) -> float:
    """Frequency at which a cylinder of this bore rings when it knocks: f = 1.841 c / (pi B)."""
    return BORE_MODE * sound_m_s / (math.pi * bore_m)


def rising_edges(times_s: list[float], values: list[float]) -> list[float]:
    """Times at which a 0 or 1 column goes up."""
    return [times_s[i] for i in range(1, len(values)) if values[i] > 0.5 >= values[i - 1]]


def flow_window(recording: Recording) -> tuple[float, float, float]:
    """Seconds of the detent closing, of the last stage's fuel opening, and of the first fuel closing.

    Raises RunError when the recording has no push that flowed, or more than one.
    """
    pushes: list[tuple[float, float, float]] = []
    closed = opened = math.nan
    had = 0
    is_closed = is_ending = False
    for tick in recording.ticks():
        now = tick["tick"] * TICK_MS / 1000.0
        pressed = str(tick.get("in", {}).get("detent", "")).lower() == "closed"
        flowing = int(tick.get("out", {}).get("fuel", 0)).bit_count()
        if pressed and not is_closed:
            closed = now
        if flowing > had and not is_ending:
            opened = now
        elif flowing < had and not is_ending:
            pushes.append((closed, opened, now))
            is_ending = True
        if not flowing:
            is_ending = False
        is_closed, had = pressed, flowing
    if len(pushes) != 1:
        places = ", ".join(f"fuel from {opened:.2f} s to {shut:.2f} s" for _closed, opened, shut in pushes)
        found = f"{len(pushes)} pushes that flowed" + (f" ({places})" if places else "")
        raise RunError(f"the recording has {found}; allowed: one run a recording")
    return pushes[0]


def measure(log: Log, recording: Recording) -> Run:
    """Lay the log over the recording and take the values. Raises RunError."""
    closed, opened, shut = flow_window(recording)
    edges = rising_edges(log.time_s, log.columns["detent"])
    if len(edges) != 1:
        places = ", ".join(f"line {log.lines[log.time_s.index(edge)]} at {edge:.2f} s" for edge in edges)
        remedy = "cut it to one run a file" if edges else "log the detent contact as 0 and 1"
        found = f"{len(edges)} detent events" + (f" ({places})" if places else "")
        raise RunError(f"the log has {found}; allowed: one; {remedy}")
    offset = edges[0] - closed
    begin, end = opened + offset + SETTLE_S, shut + offset
    if end - begin < LEAST_FLOW_S:
        raise RunError(f"all stages flowed for {shut - opened:.2f} s; allowed: {SETTLE_S + LEAST_FLOW_S:g} s or more")
    if log.time_s[0] > edges[0] - BEFORE_S or log.time_s[-1] < end:
        first, last = edges[0] - BEFORE_S, end
        raise RunError(
            f"the log runs from line {log.lines[0]} at {log.time_s[0]:.2f} s to line {log.lines[-1]} at "
            f"{log.time_s[-1]:.2f} s; allowed: at least from {first:.2f} s, {BEFORE_S:g} s before the detent event, to "
            f"{last:.2f} s, the end of the flow"
        )
    before = _window(log, edges[0] - BEFORE_S, edges[0])
    flowing = _window(log, begin, end)
    run = Run(shut - opened, offset, opened - closed, gap_s=_largest_gap(flowing["time"], begin, end))
    _take_pairs(run, before, flowing)
    _take_cylinders(run, before, flowing)
    run.not_logged = [name for name in SINGLE if name not in log.columns]
    run.not_logged += [name for name in ("egt", "cht") if not any(key.startswith(name) for key in log.columns)]
    return run


def _window(log: Log, begin_s: float, end_s: float) -> dict[str, list[float]]:
    keep = [i for i, time in enumerate(log.time_s) if begin_s <= time <= end_s]
    if not keep:
        raise RunError(f"the log has no sample between {begin_s:.2f} s and {end_s:.2f} s")
    return {name: [values[i] for i in keep] for name, values in log.columns.items()}


def _largest_gap(times_s: list[float], begin_s: float, end_s: float) -> float:
    marks = [begin_s, *times_s, end_s]
    return max(b - a for a, b in pairwise(marks))


def _take_pairs(run: Run, before: dict[str, list[float]], flowing: dict[str, list[float]]) -> None:
    if "thrust" in flowing:
        run.thrust_before_n = statistics.fmean(before["thrust"])
        run.thrust_gain_n = statistics.fmean(flowing["thrust"]) - run.thrust_before_n
    if "knock" in flowing:
        run.knock_counts = math.fsum(flowing["knock"])
    if "rpm" in flowing:
        run.speed_low_rpm, run.speed_high_rpm = min(flowing["rpm"]), max(flowing["rpm"])
    if "manifold" in flowing:
        run.manifold_dip_pa = statistics.fmean(before["manifold"]) - min(flowing["manifold"])
    if "fuel_pressure" in flowing:
        level = statistics.fmean(before["fuel_pressure"])
        run.fuel_dip_share = (level - min(flowing["fuel_pressure"])) / level if level else None
    if "bottle_pressure" in flowing:
        run.bottle_least_pa = min(flowing["bottle_pressure"])


def _take_cylinders(run: Run, before: dict[str, list[float]], flowing: dict[str, list[float]]) -> None:
    exhaust = [flowing[name] for name in flowing if name.startswith("egt_")]
    if len(exhaust) > 1:
        run.exhaust_spread_k = max(max(row) - min(row) for row in zip(*exhaust))
    heads = [name for name in flowing if name.startswith("cht_")]
    if heads:
        run.head_rise_k = max(max(flowing[name]) - statistics.fmean(before[name]) for name in heads)


def judge(runs: list[Run], rules: Rules) -> Judgement:
    """The verdict over all runs of one step, worst first; a rule without its value is not judged, and said so."""
    stops: list[str] = []
    repeats: list[str] = []
    not_judged: list[str] = []
    for number, run in enumerate(runs, start=1):
        stops += [f"run {number}: {text}" for text in _stop_rules(run, rules)]
        if run.gap_s > rules.longest_gap_s:
            repeats.append(f"run {number}: a gap of {run.gap_s:.2f} s in the flow, allowed {rules.longest_gap_s:g} s")
        not_judged += [f"run {number}: {name} was not logged" for name in run.not_logged]
    if len(runs) < 2:
        repeats.append("one run only; two alike are needed")
    gains = [run.thrust_gain_n for run in runs if run.thrust_gain_n is not None]
    if len(gains) > 1:
        mean = statistics.fmean(gains)
        spread = (max(gains) - min(gains)) / abs(mean) if mean else math.inf
        if spread > rules.repeat_share:
            repeats.append(f"thrust gains differ by {spread:.0%}, allowed {rules.repeat_share:.0%}")
    if stops:
        return Judgement("stop, go back one step", stops + repeats, not_judged)
    if repeats:
        return Judgement("repeat", repeats, not_judged)
    return Judgement("go on", [], not_judged)


def _stop_rules(run: Run, rules: Rules) -> list[str]:
    checks = (
        ("knock events", run.knock_counts, rules.knock_counts, False),
        ("exhaust spread, K", run.exhaust_spread_k, rules.exhaust_spread_k, False),
        ("head temperature rise, K", run.head_rise_k, rules.head_rise_k, False),
        ("manifold pressure dip, Pa", run.manifold_dip_pa, rules.manifold_dip_pa, False),
        ("fuel pressure dip, share", run.fuel_dip_share, rules.fuel_dip_share, False),
        ("engine speed, rpm", run.speed_high_rpm, rules.speed_high_rpm, False),
        ("engine speed, rpm", run.speed_low_rpm, rules.speed_low_rpm, True),
        ("bottle pressure, Pa", run.bottle_least_pa, rules.bottle_least_pa, True),
    )
    fired = []
    for words, value, limit, is_floor in checks:
        if value is None or limit is None:
            continue
        if value < limit if is_floor else value > limit:
            fired.append(f"{words} {value:.4g}, allowed at {'least' if is_floor else 'most'} {limit:.4g}")
    return fired
