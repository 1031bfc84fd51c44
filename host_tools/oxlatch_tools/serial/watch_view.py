"""The live view of a controller in a terminal: what it does, why, and what it reads."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from oxlatch import vocabulary as v
from oxlatch_sim.observation import ANALOGUE, Scale, reason_words
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.serial.client import Telemetry

CHANNELS = (
    ("oxidizer supply", "supply_bar", "bar"),
    ("fuel supply", "fuel_bar", "bar"),
    ("fuel block", "block_bar", "bar"),
    ("throttle", "throttle_pct", "%"),
)

EXTRA_CONTACTS = (
    (v.EX_KNOCK, "knock"),
    (v.EX_MIXTURE_RICH, "mixture rich"),
    (v.EX_RETARD, "retard"),
    (v.EX_FIRE, "FIRE"),
)


@dataclass
class Seen:
    """What the view shows: the newest telemetry, who sends it, and how the line does."""

    port: str
    identity: Mapping[str, str] = field(default_factory=dict)
    scales: Mapping[str, Scale] = field(default_factory=dict)
    told: Telemetry | None = None
    line: str = "looking for a controller"
    frames: int = 0
    replugs: int = 0
    recording: str = ""


def shown_text(told: Telemetry) -> str:
    """The four words the pilot sees."""
    return REASONS[told.text][2] if 0 <= told.text < len(REASONS) else ""


def draw(seen: Seen) -> RenderableType:
    """The whole view."""
    head = Text(f"{seen.port}: {seen.line}")
    if seen.identity:
        head.append(
            f"\n{seen.identity.get('board')} board, firmware {seen.identity.get('firmware')}, "
            f"installation {seen.identity.get('installation')}"
        )
        absent = seen.identity.get("not_fitted") or "nothing"
        head.append(f"\nNOT FITTED: {absent}")
    if seen.recording:
        head.append(f"\nrecording to {seen.recording}")
    if seen.told is None:
        return Panel(head, title="watch")
    told = seen.told
    if told.strap == 1:
        head.append("\nBENCH: INJECT STRAP FITTED", style="bold")
    state = Text(f"{v.STATE_NAMES[told.state]}   {shown_text(told)}", style="bold")
    why = Text("\n".join(reason_words(*told.why)) or "no reason stands")
    return Group(
        Panel(head, title="watch"),
        Panel(Group(state, Text(latched(told)), why), title="state, text, every standing reason"),
        readings_table(seen, told),
        outputs_table(told),
        Text(
            f"tick {told.tick}, {told.work_us / 1000:.2f} ms, longest {told.worst_us / 1000:.2f} ms, late {told.late}, "
            f"pauses {told.pauses}; frames {seen.frames}, dropped {told.dropped}, broken {told.broken}, "
            f"replugged {seen.replugs}"
        ),
    )


def latched(told: Telemetry) -> str:
    """Class, latch and first cause."""
    cause = reason_words(*told.cause, 0, 0)
    text = f"class {v.CLASS_NAMES[told.reaction]}, latch {told.latch}"
    return text + (f", first cause {cause[0]}" if cause else "")


def readings_table(seen: Seen, told: Telemetry) -> Table:
    """Readings in engineering units where the scale is known, else in millivolts."""
    table = Table(title="readings", show_header=False)
    table.add_column("what")
    table.add_column("value", justify="right")
    for name, channel, unit in CHANNELS:
        raw = told.raw[ANALOGUE[channel]]
        scale = seen.scales.get(channel)
        table.add_row(name, f"{scale.value(raw):.2f} {unit}" if scale else f"{raw} mV")
    table.add_row("bus", f"{told.raw[v.RAW_BUS_MV] / 1000:.1f} V")
    table.add_row("coil rail", f"{told.raw[v.RAW_RAIL_MV] / 1000:.1f} V")
    table.add_row("engine", f"{told.raw[v.RAW_RPM]} rpm, last pulse {told.raw[v.RAW_PULSE_AGE_MS]} ms ago")
    for name, value in extra_readings(seen, told):
        table.add_row(name, value)
    table.add_row("switches", switch_words(told.raw[v.RAW_SWITCHES]))
    return table


def extra_readings(seen: Seen, told: Telemetry) -> list[tuple[str, str]]:
    """Readings of the inputs beyond the core, of those that are fitted."""
    raw = told.raw
    contacts = [name for bit, name in EXTRA_CONTACTS if raw[v.RAW_EXTRAS] & bit]
    rows = (
        ("BOTTLE_TEMPERATURE", "bottle skin", celsius(raw[v.RAW_BOTTLE_DK])),
        ("AIR", "outside air", f"{raw[v.RAW_BARO_DAPA] / 10:.0f} hPa, {celsius(raw[v.RAW_AIR_DK])}"),
        ("OUTLET_1", "purge outlet 1", celsius(raw[v.RAW_OUTLET_1_DK])),
        ("OUTLET_2", "purge outlet 2", celsius(raw[v.RAW_OUTLET_2_DK])),
        ("AIRSPEED", "airspeed sensor", f"{raw[v.RAW_AIRSPEED_MV]} mV"),
        ("BUDGET", "counted in the bottle", f"{told.budget / 1024:.0f} g"),
    )
    absent = seen.identity.get("not_fitted", "").split(",")
    fitted = [(name, value) for flag, name, value in rows if flag not in absent]
    if any(flag not in absent for flag in ("KNOCK", "MIXTURE", "RETARD", "FIRE")):
        fitted.append(("contacts", ", ".join(contacts) or "none"))
    return fitted


def celsius(tenths_kelvin: int) -> str:
    """A temperature sample in degrees; a broken sensor reads 0."""
    return f"{tenths_kelvin / 10 - 273.15:.0f} °C" if tenths_kelvin else "no signal"


def switch_words(word: int) -> str:
    """Switches that are on."""
    named = (
        (v.SW_MASTER, "master"),
        (v.SW_PURGE, "purge"),
        (v.SW_ACK, "ack"),
        (v.SW_DETENT_NO, "detent made"),
        (v.SW_DETENT_NC, "detent open"),
    )
    words = [name for bit, name in named if word & bit]
    for shift, name in ((v.SW_SEL_SHIFT, "select"), (v.SW_PROOF_SHIFT, "proof")):
        words += [f"{name} {i + 1}" for i in range(v.STAGES_MAX) if word >> shift + i & 1]
    return ", ".join(words) or "none"


def outputs_table(told: Telemetry) -> Table:
    """Valves as driven, and the clocks the pilot cares for."""
    table = Table(title="outputs", show_header=False)
    table.add_column("what")
    table.add_column("value")
    for title, letter, word in (("oxidizer valves", "O", told.ox), ("fuel valves", "F", told.fuel)):
        valves = [f"{letter}{i + 1} {'OPEN' if word >> i & 1 else 'shut'}" for i in range(v.STAGES_MAX)]
        table.add_row(title, "  ".join(valves))
    others = (
        ("master fuel", v.OUT_MASTER_FUEL),
        ("master oxidizer", v.OUT_MASTER_OX),
        ("purge", v.OUT_PURGE),
        ("run", v.OUT_RUN),
    )
    table.add_row("also", "  ".join(f"{name} {'ON' if told.bits & bit else 'off'}" for name, bit in others))
    table.add_row("purge valid for", f"{told.purge_valid * v.TICK_MS / 1000:.0f} s")
    table.add_row("armed for another", f"{told.arm_left * v.TICK_MS / 1000:.0f} s")
    table.add_row("this run", f"{told.run_n * v.TICK_MS / 1000:.1f} s")
    return table
