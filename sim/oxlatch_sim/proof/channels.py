"""Each channel of sense alone: its own function, small counts, samples on both sides of every threshold.

A channel is explored to a fixpoint together with a memory of its own (how long something has been true of the
samples), and its lemma is checked at every step: what a verdict guarantees about the last samples, and what the
last samples force. The lemmas are in `channel_lemmas`; this module only runs them.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from oxlatch.sense import SENSE_WORDS, SenseState, Verdicts, sense_step
from oxlatch.sense_engine import rpm_step, throttle_step
from oxlatch.sense_fuel import block_step
from oxlatch.sense_supply import trend_step
from oxlatch.settings import Settings
from oxlatch.vocabulary import RAW_COUNT, RAW_ELAPSED

SMALL_TICKS = 3
STATES_MAX = 400_000
RING_TURNS = 1  # rings of eight samples are turned over two places only: "eight ticks ago" becomes "two ticks ago"
RING_CHANNELS = (throttle_step, rpm_step)
SLOW_CHANNELS = (block_step, trend_step)

SINGLE = tuple(name for name, count in SENSE_WORDS if count == 1)
LISTS = tuple(name for name, count in SENSE_WORDS if count > 1)


@dataclass(frozen=True)
class Sample:
    """One input of a channel: raw samples by index, sense words set before the step."""

    raw: tuple[tuple[int, int], ...]
    words: tuple[tuple[str, int], ...] = ()
    facts: tuple[int, ...] = ()


@dataclass(frozen=True)
class Channel:
    """One channel: the firmware function that steps it, what it is fed, what is remembered, what must hold.

    `remember(past, sample, c)` answers the new past; `holds(before, verdicts, past, c)` judges the step, where
    `before` and `verdicts` are the values of `verdicts` names before and after it.
    """

    name: str
    lemma: str
    function: Any
    samples: Callable[[Any], list[Sample]]
    verdicts: tuple[str, ...]
    fresh: tuple[int, ...]
    remember: Callable[[tuple[int, ...], Sample, Any], tuple[int, ...]]
    holds: Callable[[tuple[int, ...], tuple[int, ...], tuple[int, ...], Any], bool]
    settings: dict[str, int] = field(default_factory=dict)
    constants: dict[str, int] = field(default_factory=dict)  # of the step's module, shortened for the exploration
    unread: tuple[str, ...] = ()  # words this lemma does not depend on, cleared after every step


@dataclass
class ChannelResult:
    """What the exploration of one channel found; `broken` is empty when its lemma holds."""

    name: str
    lemma: str
    states: int
    transitions: int
    samples: int
    levels: dict[str, list[int]]
    broken: str


def stepper(channel: Channel) -> Callable[[Any, list[int], Any, Any], None]:
    """How a channel is stepped: its own function, with the parts of `sense_step` around it that it needs."""
    function = channel.function
    if function is sense_step:

        def alone(s: Any, raw: list[int], c: Any, v: Any) -> None:
            whole = SenseState()
            whole.late = s.late
            sense_step(whole, raw, c, v)
            s.late = whole.late

        return alone
    if function in SLOW_CHANNELS:

        def shown(s: Any, raw: list[int], c: Any, v: Any) -> None:
            function(s, raw, c)
            v.block = s.block_level
            v.leak_watch = s.leak_watch
            v.falling = s.falling
            v.line_lost = s.line_lost

        return shown

    if function not in RING_CHANNELS:
        return function

    def turned(s: Any, raw: list[int], c: Any, v: Any) -> None:
        s.phase = (s.phase + 1) & RING_TURNS
        function(s, raw, c, v)

    return turned


def small_settings(changes: dict[str, int]) -> Settings:
    """Default thresholds with every count small; `changes` on top."""
    c = Settings()
    for name in vars(c):
        if name.endswith("_ticks"):
            setattr(c, name, SMALL_TICKS)
    for name, value in changes.items():
        setattr(c, name, value)
    return c


def explore_channel(channel: Channel) -> ChannelResult:
    """Breadth first over the channel's own words and the memory of its samples."""
    names = channel.function.__globals__
    usual = {name: names[name] for name in channel.constants}
    names.update(channel.constants)
    try:
        return _explore(channel)
    finally:
        names.update(usual)


def _explore(channel: Channel) -> ChannelResult:
    c = small_settings(channel.settings)
    step = stepper(channel)
    samples = channel.samples(c)
    s, v = SenseState(), Verdicts()
    raws = [_raw(sample) for sample in samples]
    start = (_words(s), _shown(v, channel), channel.fresh)
    order = [start]
    known = {start}
    levels: dict[str, set[int]] = {name: set() for name in channel.verdicts}
    transitions = 0
    for words, before, past in order:
        for sample, raw in zip(samples, raws, strict=True):
            _load(s, v, words, before, channel)
            for name, value in sample.words:
                setattr(s, name, value)
            step(s, raw, c, v)
            for name in channel.unread:
                held = getattr(s, name)
                setattr(s, name, [0] * len(held) if isinstance(held, list) else 0)
            transitions += 1
            shown = _shown(v, channel)
            for name, level in zip(channel.verdicts, shown, strict=True):
                levels[name].add(level)
            now = channel.remember(past, sample, c)
            if not channel.holds(before, shown, now, c):
                told = f"{dict(zip(channel.verdicts, shown, strict=True))} after runs {now}, before it {before}"
                return _result(channel, order, transitions, samples, levels, told)
            after = (_words(s), shown, now)
            if after not in known:
                known.add(after)
                order.append(after)
                if len(order) > STATES_MAX:
                    return _result(channel, order, transitions, samples, levels, "no fixpoint within the limit")
    return _result(channel, order, transitions, samples, levels, "")


def _result(
    channel: Channel, order: list[Any], transitions: int, samples: list[Sample], levels: dict[str, set[int]], broken: str
) -> ChannelResult:
    seen = {name: sorted(found) for name, found in levels.items()}
    return ChannelResult(channel.name, channel.lemma, len(order), transitions, len(samples), seen, broken)


def _raw(sample: Sample) -> list[int]:
    raw = [0] * RAW_COUNT
    raw[RAW_ELAPSED] = 1
    for index, value in sample.raw:
        raw[index] = value
    return raw


def _words(s: Any) -> tuple[Any, ...]:
    held = vars(s)
    return (*[held[name] for name in SINGLE], *[tuple(held[name]) for name in LISTS])


def _shown(v: Any, channel: Channel) -> tuple[int, ...]:
    return tuple(getattr(v, name) for name in channel.verdicts)


def _load(s: Any, v: Any, words: tuple[Any, ...], shown: tuple[int, ...], channel: Channel) -> None:
    held = vars(s)
    held.update(zip(SINGLE, words))
    for name, values in zip(LISTS, words[len(SINGLE) :], strict=True):
        held[name] = list(values)
    vars(v).update(zip(channel.verdicts, shown))


def explore_channels() -> Iterator[ChannelResult]:
    """Every channel in turn."""
    from oxlatch_sim.proof.channel_lemmas import CHANNELS

    for channel in CHANNELS:
        yield explore_channel(channel)
