"""Every generated part of the pages: values, pins, connectors, words, hazards, reasons, inspection."""

import tomllib
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

from notes import bill
from notes.deck import DRAWINGS
from notes.draw_bench import gas_rows, load_cells, settings_of_rig
from notes.facts import UNITS, Facts
from notes.pack import connectors, line_ends
from notes.preferred import ohm_text
from oxlatch.boards import rp2_pins
from oxlatch.lamps import LAMPS
from oxlatch.vocabulary import CLASS_NAMES, LAMP_BLINK, LAMP_ON, STATE_NAMES, TICK_MS
from oxlatch_sim.reason_names import reasons_by_name
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.evidence.inspection import inspection_markdown, life_markdown
from oxlatch_tools.evidence.life import lives
from oxlatch_tools.evidence.troubleshooting import Cause, Trouble, symptoms, troubles
from oxlatch_tools.installation_fitted import fitted, not_fitted
from oxlatch_tools.installation_settings import packed_fields

HERE = Path(__file__).resolve().parent
LAMP_NAMES = ("READY green", "FLOW white", "CHECK amber", "STOP red", "purge light")


def grid(head: Iterable[str], rows: Iterable[Iterable[str]]) -> list[str]:
    """A Markdown table."""
    names = list(head)
    lines = [_line(names), "|" + "---|" * len(names)]
    return lines + [_line(row) for row in rows]


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(str(cell).replace("|", "/") for cell in cells) + " |"


def origin(facts: Facts) -> list[str]:
    """Which aircraft the values are of."""
    return [f"*{facts.origin}*"]


def drawings(facts: Facts) -> list[str]:
    """Every drawing with its title."""
    return [f"- [{maker(facts).title}](drawings/{name}.svg)" for name, maker in DRAWINGS.items()]


def coils(facts: Facts) -> list[str]:
    """Every coil and its driver."""
    head = [
        "coil",
        "number",
        "ohm at 20 °C",
        "cold A",
        "sense",
        "hold A",
        "trip A",
        "clamp V",
        "lets go hot ms",
        "lets go cold ms",
        "shut ms",
        "drain V",
        "mJ off",
    ]
    rows = []
    for coil in facts.coils():
        valve = coil.valve
        rows.append([
            coil.name, str(coil.count), f"{valve.resistance:g}", f"{coil.cold_a:.2f}", ohm_text(coil.sense_ohm),
            f"{coil.parameters.hold_sense_a:.2f}", f"{coil.parameters.trip_sense_a:.1f}", f"{valve.clamp:g}",
            f"{1e3 * coil.hot_release_s:.1f}", f"{1e3 * coil.cold_release_s:.1f}", f"{1e3 * valve.closing:.0f}",
            f"{coil.drain_v:.1f}", f"{1e3 * coil.clamp_j:.0f}",
        ])  # fmt: skip
    return grid(head, rows)


def settings(facts: Facts) -> list[str]:
    """The whole settings record, with where each field comes from."""
    packed = packed_fields(facts.installation)
    rows = []
    for name, unit in UNITS.items():
        value = facts.setting(name)
        source = packed[name].source if name in packed else "default of the record"
        rows.append([f"`{name}`", str(value), unit, _meaning(facts, name, value, unit), source])
    return grid(["field", "value", "unit", "that is", "from"], rows)


def _chosen(*begins: str) -> Callable[[Facts], list[str]]:
    """A table of the settings whose names begin so, one page's part of the record."""

    def table(facts: Facts) -> list[str]:
        packed = packed_fields(facts.installation)
        rows = []
        for name, unit in UNITS.items():
            if name.startswith(begins):
                value = facts.setting(name)
                source = packed[name].source if name in packed else "default of the record"
                rows.append([f"`{name}`", f"{value} {unit}", _meaning(facts, name, value, unit), source])
        return grid(["setting", "value", "that is", "from"], rows)

    return table


def _meaning(facts: Facts, name: str, value: int, unit: str) -> str:
    if unit == "0.1 K":
        return f"{value / 10 - 273.15:.1f} °C"
    if unit == "g/1024":
        per_tick = name.startswith("flow_")
        return f"{value / 1024 * 1000 / TICK_MS:.1f} g/s" if per_tick else f"{value / 1024:.0f} g"
    if unit == "1e-4":
        return f"{value / 1e4:.3f} of standard air at sea level"
    if unit == "turns":
        return f"{value * 8 * TICK_MS / 1e3:g} s, looked at every eighth tick"
    if unit == "ticks":
        ms = value * TICK_MS
        return f"{ms / 60e3:g} min" if ms >= 60_000 else f"{ms / 1e3:g} s" if ms >= 1000 else f"{ms} ms"
    if unit == "bits":
        return f"hex {value:x}"
    if unit != "mV" or name.endswith("_sum_mv") or name.startswith("block_"):
        return ""
    if name.startswith(("line_", "supply_")):
        return f"{facts.supply_bar(value):.1f} bar absolute"
    if name.startswith("fuel_"):
        return f"{facts.fuel_bar(value):.3f} bar"
    if name.startswith(("bus_", "rail_")):
        return f"{value / 1e3:g} V"
    if name.startswith("throttle_") and name != "throttle_chop_mv":
        return f"{100 * facts.throttle_share(value):.0f} % of travel"
    return ""


def board_pins(facts: Facts) -> list[str]:
    """The pin map of the board file."""
    rows = [[f"GP{gpio}", name, kind, outside] for gpio, name, kind, outside in rp2_pins.PINS]
    return grid(["pin", "name", "kind", "fitted outside the chip"], rows)


def converter(facts: Facts) -> list[str]:
    """Channels of the converter."""
    names = {name: value for name, value in vars(rp2_pins).items() if name.startswith("CHANNEL_")}
    scale = {"BUS": rp2_pins.VOLTS_FULL_MV, "RAIL": rp2_pins.VOLTS_FULL_MV}
    rows = []
    for name, channel in sorted(names.items(), key=lambda item: int(item[1])):
        what = name.removeprefix("CHANNEL_")
        pair = facts.volts_divider if what in scale else facts.sensor_divider
        full = scale.get(what, rp2_pins.SENSOR_FULL_MV) / 1e3
        error = 100 * (pair.share * full / 3.3 - 1)
        rows.append(
            [
                str(channel),
                what.lower(),
                f"{full:g} V",
                f"{ohm_text(pair.top_ohm)} over {ohm_text(pair.bottom_ohm)}",
                f"{error:+.2f} %",
            ]
        )
    return grid(["channel", "what", "full scale", "divider", "its error"], rows)


EXTRA_WORDS = {
    "BOTTLE": "thermistor on the bottle's skin, in a divider from the converter's reference",
    "BARO": "barometer, 0.5 to 4.5 V",
    "AIR": "thermistor in outside air, in a divider from the converter's reference",
    "OUTLET_1": "thermocouple amplifier, purge outlet 1",
    "OUTLET_2": "thermocouple amplifier, purge outlet 2",
    "AIRSPEED": "difference of pitot and static pressure, 0.5 to 4.5 V",
    "REFERENCE": "reference of its own, as on the first",
}


def extra_converter(_facts: Facts) -> list[str]:
    """Channels of the second converter."""
    found = {name.removeprefix("EXTRA_"): value for name, value in vars(rp2_pins).items() if name.startswith("EXTRA_")}
    found.pop("CHANNELS")
    rows = [[str(channel), EXTRA_WORDS[name]] for name, channel in sorted(found.items(), key=lambda item: int(item[1]))]
    return grid(["channel", "what is behind it"], rows)


def states(facts: Facts) -> list[str]:
    """States with their lamps."""
    rows = []
    for name, word in zip(STATE_NAMES, LAMPS, strict=True):
        shown = []
        for index, lamp in enumerate(LAMP_NAMES):
            level = word >> (2 * index) & 3
            if level == LAMP_ON:
                shown.append(lamp)
            elif level == LAMP_BLINK:
                shown.append(f"{lamp}, blinking")
        rows.append([name, "; ".join(shown) or "dark"])
    return grid(["state", "lamps"], rows)


def rig_inputs(facts: Facts) -> list[str]:
    """What stands in for each input on the rig."""
    return grid(["input", "part of the rig", "set to"], settings_of_rig(facts))


def rig_loads(facts: Facts) -> list[str]:
    """What stands in for each coil on the rig."""
    return grid(["load of", "resistor", "current", "heat", "hold"], [load_cells(facts, coil) for coil in facts.coils()])


def gases(facts: Facts) -> list[str]:
    """Pressures of both gases."""
    rows = [
        [f"{celsius:g}", f"{oxide:.1f}", f"{carbon:.1f}" if carbon else "no liquid"]
        for celsius, oxide, carbon in gas_rows()
    ]
    return grid(["bottle °C", "nitrous oxide, bar absolute", "carbon dioxide, bar absolute"], rows)


def connector_pins(facts: Facts) -> list[str]:
    """Every pin of J1, J2 and J3."""
    lines: list[str] = []
    for connector in connectors(facts):
        lines += [f"### {connector.name}: {connector.carries}", ""]
        lines += grid(
            ["pin", "name", "goes to", "wire", "current", "reads"],
            [[str(pin.number), pin.name, pin.goes_to, pin.gauge, pin.current, pin.reads] for pin in connector.pins],
        )
        lines.append("")
    return lines[:-1]


def ends(facts: Facts) -> list[str]:
    """Every line end of the pack."""
    rows = [[end.name, end.fluid, str(end.count), end.bore, end.note] for end in line_ends(facts)]
    return grid(["end", "fluid", "number", "bore", "note"], rows)


def parts_bill(facts: Facts) -> list[str]:
    """Parts by generic type and rating."""
    lines: list[str] = []
    for heading, rows in bill.groups(facts):
        lines += [f"### {heading}", "", *grid(["part", "number", "type and rating", "why"], rows), ""]
    return lines[:-1]


def options(facts: Facts) -> list[str]:
    """Optional parts with what is lost without each."""
    sensors = facts.installation.sensors.model_copy(update={"fitted": []})
    bare = facts.installation.model_copy(update={"sensors": sensors})
    here = set(fitted(facts.installation))
    rows = [[item.part, "yes" if item.part in here else "NO", item.lost] for item in not_fitted(bare)]
    return grid(["part", "fitted in the example", "lost without it"], rows)


@lru_cache(maxsize=4)
def _toml(name: str) -> dict[str, Any]:
    return tomllib.loads((HERE / name).read_text(encoding="utf-8"))


def trade_words(facts: Facts) -> list[str]:
    """The trade's words and ours."""
    names = {name: row for name in reasons_by_name() for row in REASONS if (row[0], row[1]) == reasons_by_name()[name]}
    rows = []
    for entry in _toml("words.toml")["word"]:
        reasons = ", ".join(names[name][2] for name in entry["reasons"])
        fields = "; ".join(f"`{name}` {_setting_text(facts, name)}" for name in entry["settings"])
        rows.append(
            [
                entry["trade"],
                entry["ours"],
                ", ".join(entry["states"]),
                ", ".join(entry["inputs"]),
                reasons,
                fields,
                entry["means"],
            ]
        )
    return grid(
        ["the trade says", "we say", "states", "inputs", "reasons shown", "settings", "what it means here"], rows
    )


def _setting_text(facts: Facts, name: str) -> str:
    value = facts.setting(name)
    return _meaning(facts, name, value, UNITS[name]) or f"{value} {UNITS[name]}"


def hazards(facts: Facts) -> list[str]:
    """The hazard table: reaction and latch from the firmware's reasons."""
    rows = []
    for entry in _toml("hazards.toml")["row"]:
        reasons = [row for row in REASONS if row[5] == entry["n"]]
        shown = "; ".join(f"{row[2]} ({CLASS_NAMES[row[3]]}{f', L{row[4]}' if row[4] else ''})" for row in reasons)
        answer = shown or f"none of its own: {entry['by']}"
        rows.append([str(entry["n"]), entry["event"], entry["cause"], entry["sees"], answer, entry["beyond"] or "nothing more is known"])
    return grid(
        ["row", "what happens", "causes", "what the controller sees", "reason, reaction, latch", "not covered"], rows
    )


def reasons_tree(facts: Facts) -> list[str]:
    """Every reason with its ranked causes."""
    lines: list[str] = []
    places = reasons_by_name()
    headings = ("Stops and trips", "Stops and trips", "Refusals", "Notes")
    last = ""
    for found in troubles():
        heading = headings[places[found.name][0]]
        if heading != last:
            lines += [f"## {heading}", ""]
            last = heading
        lines += _reason(found)
    return lines[:-1]


def _reason(found: Trouble) -> list[str]:
    latch = f", latch L{found.latch}" if found.latch else ""
    lines = [
        f"### {found.words}",
        "",
        f"{found.reaction}{latch}; hazard row {found.row}. Pilot: {found.what_to_do}. Clears: {found.clears}. "
        f"See [{found.page}]({found.page}.md).",
        "",
    ]
    return [*lines, *_ranked(found.causes), ""]


def _ranked(causes: Iterable[Cause]) -> list[str]:
    return [f"{number}. {cause.words}. *Test:* {cause.test}." for number, cause in enumerate(causes, start=1)]


def symptom_list(facts: Facts) -> list[str]:
    """What no reason names."""
    lines: list[str] = []
    for found in symptoms():
        lines += [f"### {found.words}", "", *_ranked(found.causes), ""]
    return lines[:-1]


def inspection(facts: Facts) -> list[str]:
    """The yearly sheet of the example."""
    return inspection_markdown(facts.installation, facts.installation.aircraft.units, "as the certificate says")[:-1]


def recurring(facts: Facts) -> list[str]:
    """Recurring parts of the example."""
    return life_markdown(lives(facts.installation))


TABLES: dict[str, Callable[[Facts], list[str]]] = {
    "origin": origin,
    "drawings": drawings,
    "coils": coils,
    "settings": settings,
    "board pins": board_pins,
    "converter": converter,
    "extra converter": extra_converter,
    "states": states,
    "rig inputs": rig_inputs,
    "rig loads": rig_loads,
    "gases": gases,
    "connector pins": connector_pins,
    "line ends": ends,
    "bill": parts_bill,
    "options": options,
    "words": trade_words,
    "hazards": hazards,
    "reasons": reasons_tree,
    "symptoms": symptom_list,
    "bottle settings": _chosen("bottle_", "match_", "sat_"),
    "stock settings": _chosen("bottle_full", "flow_", "need_", "coil_heat_"),
    "air settings": _chosen("patterns", "density_", "row_", "airspeed_"),
    "engine settings": _chosen("knock_"),
    "vent settings": _chosen("outlet_", "vent_", "line_empty"),
    "bench settings": _chosen("bench_"),
    "inspection": inspection,
    "recurring": recurring,
}
