"""What a flown flight leaves behind: its recording, its picture, and what the monitors saw."""

import textwrap
from pathlib import Path
from typing import Any

from oxlatch_sim.flight import Flight
from oxlatch_sim.monitor import NOT_MONITORED, Finding
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.timeline import draw
from oxlatch_tools.outcome import write_output

WIDTH = 110


def write_flight(flight: Flight, folder: Path, name: str, title: str | None) -> tuple[Path, Path | None]:
    """Write the recording and, given a title, its timeline picture; their paths. Raises BadInput."""
    data = flight.recorder.end()
    recording = write_output(folder, f"{name}.jsonl", data)
    if title is None:
        return recording, None
    return recording, write_output(folder, f"{name}.png", draw(parse_recording(data), title))


def finding_rows(findings: list[Finding]) -> list[dict[str, Any]]:
    """Findings as plain data for the envelope."""
    return [
        {"id": found.id, "held": found.held, "first_tick": found.first_tick, "vacuous": found.vacuous}
        for found in findings
    ]


def findings_text(findings: list[Finding]) -> str:
    """What the monitors saw, in sentences: broken ones first, then what was not put to the test."""
    lines = [f"BROKEN {found.id} at tick {found.first_tick}: {found.words}" for found in findings if not found.held]
    tested = [found for found in findings if not found.vacuous]
    held = [found for found in tested if found.held]
    lines.append(f"{len(held)} of {len(tested)} invariants put to the test held, in every tick.")
    idle = [found.id for found in findings if found.vacuous]
    if idle:
        lines.append(f"Not put to the test here: {', '.join(idle)}.")
    lines += [f"Not visible in a recording: {key}, {why}." for key, why in NOT_MONITORED.items()]
    return "\n".join(textwrap.fill(line, WIDTH) for line in lines)
