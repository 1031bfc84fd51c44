"""A journal told in words: what was asked, what happened, why each valve moved, margins, mass, refusals, trends.

The journal holds the ticks in which something changed and one a second while anything flows. What lies between is
not known, and the debrief says so.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from oxlatch import reasons
from oxlatch import vocabulary as v
from oxlatch_sim.observation import ANALOGUE, Scale
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.serial.journal_rows import Row

PUSH_REFUSALS = reasons.PUSH_NOT_FULL | reasons.PUSH_RPM_LOW | reasons.PUSH_RPM_HIGH | reasons.PUSH_RPM_SIGNAL
STAGES = range(v.STAGES_MAX)
SWITCHES = ((v.SW_MASTER, "master"), (v.SW_PURGE, "purge button"), (v.SW_ACK, "acknowledge button"))


@dataclass
class Debrief:
    """Sentences in order, and the numbers behind them."""

    story: list[str] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)
    openings_ms: dict[int, list[int]] = field(default_factory=dict)
    """Per stage, from O commanded to O proved."""
    open_s: dict[int, float] = field(default_factory=dict)
    margins: list[str] = field(default_factory=list)
    trends: list[str] = field(default_factory=list)
    mass: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        """The whole debrief."""
        parts = (
            ("WHAT HAPPENED", self.story),
            ("REFUSALS", self.refusals or ["no push was refused"]),
            ("OPENING TIMES, O COMMANDED TO O PROVED", self.trends or ["no stage opened"]),
            ("MARGINS WHILE FLOWING, AS FAR AS RECORDED", self.margins or ["nothing flowed"]),
            ("OXIDIZER USED", self.mass or ["none"]),
            ("NOT KNOWN", ["what happened between records: they are made on a change and once a second in flow"]),
        )
        return [line for title, rows in parts for line in (title, *(f"  {row}" for row in rows), "")]


def debrief(
    rows: list[Row], settings: Any, scales: Mapping[str, Scale], nominal_kg_s: Mapping[int, float] | None = None
) -> Debrief:
    """Tell the rows; `nominal_kg_s` gives each stage's nominal oxidizer flow where the installation is known."""
    told = Debrief()
    for before, row in pairs(rows):
        told.story += happenings(before, row)
        told.refusals += refusal(before, row)
    opening_times(rows, told)
    told.margins = margins(rows, settings, scales)
    told.trends = [trend(stage, times) for stage, times in sorted(told.openings_ms.items())]
    told.mass = mass(told.open_s, nominal_kg_s)
    return told


def pairs(rows: list[Row]) -> Iterator[tuple[Row | None, Row]]:
    """Each row with the one before it; none before the first after a start-up."""
    before: Row | None = None
    for row in rows:
        yield (None if row.is_boot else before), row
        before = row


def stamp(row: Row) -> str:
    """The time of a row."""
    return f"{row.seconds:10.3f} s"


def happenings(before: Row | None, row: Row) -> list[str]:
    """What changed in one row, in words."""
    if before is None:
        if row.is_injected:
            return [f"{stamp(row)}  BENCH: samples injected over the link; up to the next start-up nothing flew"]
        found = [name for name, bit in BOOT_WORDS if row.raw[v.RAW_BOOT] & bit]
        return [f"{stamp(row)}  start-up, found: {', '.join(found) or 'nothing out of order'}"]
    told = inputs(before, row)
    if row.state != before.state:
        text = f"{v.STATE_NAMES[before.state]} -> {v.STATE_NAMES[row.state]}"
        if row.state == v.TRIP:
            text += f", latch {row.latch}, first cause {row.first_cause or 'not kept'}"
        told.append(text)
    told += valves(before, row)
    new = [reason for reason in row.reasons if reason not in before.reasons]
    if new and not (row.state == v.TRIP and new == [row.first_cause]):
        told.append("now standing: " + ", ".join(new))
    return [f"{stamp(row)}  {text}" for text in told]


BOOT_WORDS = (
    ("settings corrupt", v.BOOT_CRC_BAD),
    ("settings of another version", v.BOOT_VERSION_BAD),
    ("settings out of bounds", v.BOOT_BOUNDS_BAD),
    ("lockout store unreadable", v.BOOT_STORE_UNREADABLE),
    ("locked until tested", v.BOOT_LOCKED_L3),
    ("locked until maintenance", v.BOOT_LOCKED_L4),
    ("power lost while armed", v.BOOT_LOST_ARMED),
    ("reset by the watchdog", v.BOOT_WATCHDOG),
)


def inputs(before: Row, row: Row) -> list[str]:
    """What the pilot's hands did."""
    told = []
    for bit, name in SWITCHES:
        if (before.switches ^ row.switches) & bit:
            told.append(f"{name} {'on' if row.switches & bit else 'off'}")
    if row.selected != before.selected:
        chosen = ", ".join(str(i + 1) for i in STAGES if row.selected >> i & 1) or "none"
        told.append(f"stages selected: {chosen}")
    if row.contact != before.contact:
        words = {v.CONTACT_CLOSED: "throttle pushed into the detent", v.CONTACT_OPEN: "throttle out of the detent"}
        between = "leaving" if before.contact == v.CONTACT_CLOSED else "entering"
        told.append(words.get(row.contact, f"throttle {between} the detent: no contact made for certain"))
    return told


def valves(before: Row, row: Row) -> list[str]:
    """Which valves moved, and why."""
    told = []
    for name, was, now in (("O", before.ox, row.ox), ("F", before.fuel, row.fuel)):
        opened = [f"{name}{i + 1}" for i in STAGES if now & ~was & 1 << i]
        shut = [f"{name}{i + 1}" for i in STAGES if was & ~now & 1 << i]
        if opened:
            why = "pushed and permitted" if name == "O" else "its oxidizer open, old enough and proved"
            told.append(f"{', '.join(opened)} opened: {why}")
        if shut:
            told.append(f"{', '.join(shut)} shut: {why_shut(before, row)}")
    for bit, name in ((v.OUT_PURGE, "purge valve"), (v.OUT_MASTER_FUEL, "master fuel valve")):
        if (before.bits ^ row.bits) & bit:
            told.append(f"{name} {'opened' if row.bits & bit else 'shut: ' + why_shut(before, row)}")
    return told


def why_shut(before: Row, row: Row) -> str:
    """The best account the records give of a valve shutting."""
    if row.first_cause and row.reaction >= v.FUEL_FIRST:
        return row.first_cause
    if row.reaction >= v.FUEL_FIRST and row.reasons:
        return row.reasons[0]
    if not row.switches & v.SW_MASTER:
        return "master off"
    if before.bits & v.OUT_PURGE and not row.switches & v.SW_PURGE:
        return "purge button released"
    if row.contact != v.CONTACT_CLOSED:
        return "throttle released"
    if before.selected & ~row.selected:
        return "selector turned off"
    return "end of its sequence" if row.state in (v.RUN_DOWN, v.GAP) else "the controller asked for it"


def refusal(before: Row | None, row: Row) -> list[str]:
    """A push that was refused, with every reason."""
    if before is None:
        return []
    judged = row.why[2] & PUSH_REFUSALS and not before.why[2] & PUSH_REFUSALS
    pushed = row.contact == v.CONTACT_CLOSED and before.contact != v.CONTACT_CLOSED
    early = pushed and row.state in (v.WAITING, v.GAP, v.PURGING, v.HELD, v.TRIP)
    if not judged and not early:
        return []
    why = [word for word in row.reasons if word not in NOTES]
    return [f"{stamp(row)}  pushed in {v.STATE_NAMES[row.state]}, refused: {', '.join(why) or 'no reason recorded'}"]


NOTES = frozenset(row[2] for row in REASONS if row.word == 3 and row.reaction == v.TELL)


def opening_times(rows: list[Row], told: Debrief) -> None:
    """Fill in per stage: milliseconds from O commanded to O proved, and seconds O was open."""
    since: dict[int, Row] = {}
    for before, row in pairs(rows):
        if before is None:
            since.clear()
            continue
        for stage in STAGES:
            bit = 1 << stage
            if row.ox & ~before.ox & bit:
                since[stage] = row
            if stage in since and row.proof & ~before.proof & bit:
                told.openings_ms.setdefault(stage + 1, []).append((row.n - since[stage].n) * v.TICK_MS)
            if before.ox & ~row.ox & bit and stage in since:
                open_s = (row.n - since.pop(stage).n) * v.TICK_MS / 1000
                told.open_s[stage + 1] = told.open_s.get(stage + 1, 0.0) + open_s


def trend(stage: int, times_ms: list[int]) -> str:
    """Opening times of one stage in a sentence."""
    text = f"stage {stage}: {len(times_ms)} openings, {min(times_ms)} to {max(times_ms)} ms"
    if len(times_ms) < 4:
        return text + "; too few for a trend"
    half = len(times_ms) // 2
    first, last = sum(times_ms[:half]) / half, sum(times_ms[-half:]) / half
    if abs(last - first) < v.TICK_MS:
        return text + "; no trend"
    return text + f"; {'slower' if last > first else 'faster'} by {abs(last - first):.0f} ms from first half to last"


def margins(rows: list[Row], settings: Any, scales: Mapping[str, Scale]) -> list[str]:
    """Lowest readings while oxidizer flowed, beside what would have stopped the flow."""
    flowing = [row for row in rows if row.ox]
    if not flowing:
        return []
    told = []
    watched = (
        ("oxidizer supply", "supply_bar", v.RAW_SUPPLY_MV, settings.supply_cut_mv, "bar"),
        ("fuel supply", "fuel_bar", v.RAW_FUEL_MV, settings.fuel_cut_mv, "bar"),
    )
    for name, channel, index, cut_mv, unit in watched:
        low = min(row.raw[index] for row in flowing)
        if channel in scales and ANALOGUE[channel] == index:
            scale = scales[channel]
            told.append(f"{name}: lowest {scale.value(low)} {unit}, stops at {scale.value(cut_mv)} {unit}")
        else:
            told.append(f"{name}: lowest {low} mV, stops at {cut_mv} mV")
    low = min(row.raw[v.RAW_BUS_MV] for row in flowing)
    told.append(f"bus: lowest {low / 1000:.1f} V, stops at {settings.bus_cut_mv / 1000:.1f} V")
    speeds = [row.raw[v.RAW_RPM] for row in flowing]
    told.append(f"engine: {min(speeds)} to {max(speeds)} rpm, stops at {settings.rpm_cut} and {settings.rpm_max} rpm")
    return told


def mass(open_s: Mapping[int, float], nominal_kg_s: Mapping[int, float] | None) -> list[str]:
    """Oxidizer used per stage at nominal flow; it is computed, not measured."""
    told = []
    total = 0.0
    for stage, seconds in sorted(open_s.items()):
        if nominal_kg_s and stage in nominal_kg_s:
            used = seconds * nominal_kg_s[stage]
            total += used
            told.append(
                f"stage {stage}: open {seconds:.2f} s, {used:.3f} kg at its nominal flow (computed, not measured)"
            )
        else:
            told.append(f"stage {stage}: open {seconds:.2f} s; its flow is not known without the installation")
    if total:
        told.append(f"together {total:.3f} kg, purges and filling of the lines not counted")
    return told
