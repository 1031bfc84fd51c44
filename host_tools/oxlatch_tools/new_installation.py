"""A starting installation file from a handful of answers.

The answers stand in the file as given. Everything else is copied from an invented example and marked, because a wrong
value that looks right is worse than one that asks to be replaced.
"""

import re
from dataclasses import dataclass

from oxlatch_tools.installation import example, parse_installation

MARK = "# REPLACE"
DROPPED = {
    "propeller_power",
    "mount_torque",
    "crank_torque",
    "peak_pressure",
    "handbook_roll",
    "oxidizer_jet",
    "fuel_jet",
    "valve_times",
    "purge_time",
    "limits_signed",
}
HEADER = """# {name}: a starting file.
# Lines that end in {mark} hold values of an invented aircraft. Replace every one by your own, then remove the mark.
# Limits come from the engine maker, the propeller maker, the gas supplier, local rules and your own tests.
# `oxlatch plan FILE` lists everything that is wrong or contradictory at once.
"""


@dataclass(frozen=True)
class Answers:
    """What is asked. Quantities are texts with units; stage powers ascend."""

    name: str
    units: str
    volts: str
    cylinders: int
    bore: str
    stroke: str
    power: str
    speed: str
    ceiling: str
    stages: tuple[str, ...]
    bottle_charge: str
    bottle_volume: str


def starting_text(answers: Answers) -> str:
    """The file; InstallationError when the answers contradict one another."""
    text = example("valley_two_seater" if answers.volts == "28" else "alpine_tug").read_text(encoding="utf-8")
    given = _given(answers)
    lines = HEADER.format(name=answers.name, mark=MARK).splitlines()
    section = ""
    stage_lines: list[str] = []
    entries: dict[str, int] = {}
    for line in text.splitlines():
        heading = re.match(r"^\[\[?([a-z_.]+)\]\]?", line)
        if heading:
            section = heading.group(1)
            entries[section] = entries.get(section, 0) + 1
            if section in ("stages", "alternatives", "tested.patterns", "tested.shots") or _is_later(section, entries):
                if section == "stages" and entries[section] == 1:
                    lines.append("@stages")
                continue
            lines.append(line)
            continue
        if section == "stages":
            if entries["stages"] == len(re.findall(r"(?m)^\[\[stages\]\]", text)):
                stage_lines.append(line)
            continue
        if section in ("alternatives", "tested.patterns", "tested.shots") or _is_later(section, entries):
            continue
        if line.startswith("#") and not section:
            continue
        kept = _line(section, line, given)
        if kept is not None:
            lines.append(kept)
    stages = [
        part for number, power in enumerate(answers.stages, 1) for part in _stage(stage_lines, number, power, answers)
    ]
    place = lines.index("@stages")
    text = "\n".join([*lines[:place], *stages, *lines[place + 1 :]])
    text = re.sub(r"\n{3,}", "\n\n", text).rstrip() + "\n"
    parse_installation(text, "answers")
    return text


def _is_later(section: str, entries: dict[str, int]) -> bool:
    return section == "airfields" and entries[section] > 1


def _given(answers: Answers) -> dict[tuple[str, str], str]:
    return {
        ("aircraft", "name"): f'"{answers.name}"',
        ("aircraft", "example"): "false",
        ("aircraft", "units"): f'"{answers.units}"',
        ("engine", "cylinders"): str(answers.cylinders),
        ("engine", "bore"): f'"{answers.bore}"',
        ("engine", "stroke"): f'"{answers.stroke}"',
        ("engine", "rated_power"): f'"{answers.power}"',
        ("engine", "rated_speed"): f'"{answers.speed}"',
        ("ceiling", "power"): f'"{answers.ceiling}"',
        ("bottle", "charge"): f'"{answers.bottle_charge}"',
        ("bottle", "volume"): f'"{answers.bottle_volume}"',
        ("ceiling", "evidence"): '"Not stated yet."',
    }


def _line(section: str, line: str, given: dict[tuple[str, str], str]) -> str | None:
    """One line of the example for the new file: answered, marked, kept as it is, or None to drop it."""
    key = re.match(r"^([a-z_]+) = (.*)$", line)
    if key is None:
        inner = re.match(r"^  [\"{]", line)
        return f"{line}  {MARK}" if inner and section == "fuel" else line
    name = key.group(1)
    if (section, name) in given:
        return f"{name} = {given[(section, name)]}"
    if name in DROPPED:
        return None
    value = re.sub(r"\s+#.*$", "", key.group(2))
    if section == "" or value.endswith("[") or value == "[]":
        return f"{name} = {value}"
    return f"{name} = {value}  {MARK}"


def _stage(template: list[str], number: int, power: str, answers: Answers) -> list[str]:
    lines = [
        "[[stages]]",
        f'name = "Stage {number}"',
        f'power = "{power}"',
        'delivery = "port"',
        f"nozzles = {answers.cylinders}",
    ]
    for line in template:
        key = re.match(r"^([a-z_]+) = ", line)
        if key and key.group(1) not in {"name", "power", "delivery", "nozzles", *DROPPED}:
            lines.append(re.sub(r"\s+#.*$", "", line) + f"  {MARK}")
    return [*lines, ""]
