"""What was measured: one TOML file a step, kept with date, name and digest; and which step may be done next.

A result counts while the sections of the installation that its step depends on are as they were: their
digest is kept with it, and a change re-opens the step.
"""

import datetime
import re
import tomllib
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from oxlatch_sim.whole_file import write_whole
from oxlatch_tools.cards.changes import section_values
from oxlatch_tools.commissioning.step import Step
from oxlatch_tools.installation import Installation

Status = Literal["passed", "failed", "not done", "re-opened", "open", "waits"]
KEYS = ("step", "date", "by", "values", "note", "not_done")


class ResultError(ValueError):
    """A result file cannot be used; the message lists every problem with where and what is allowed."""


@dataclass(frozen=True)
class Result:
    """One filled-in sheet."""

    step: str
    date: datetime.date
    by: str
    values: dict[str, float] = field(default_factory=dict)
    note: str = ""
    not_done: str = ""
    sections_digest: str = ""
    installation: str = ""


@dataclass(frozen=True)
class Standing:
    """Where one step stands and why."""

    step: Step
    status: Status
    result: Result | None
    why: str


def sections_digest(installation: Installation, sections: tuple[str, ...]) -> str:
    """8 hex digits over the values of some sections of the installation, in the order of the file."""
    values = section_values(installation, sections)
    text = "\n".join(f"{'.'.join(str(part) for part in path)}={value}" for path, value in values)
    return f"{zlib.crc32(text.encode()):08x}"


def parse_result(text: str, where: str, steps: list[Step]) -> Result:
    """A filled-in sheet from TOML. Raises ResultError with every problem at once."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ResultError(f"{where}: not TOML: {error}") from error
    by_key = {step.key: step for step in steps}
    problems = [f"{key!r} is no field; allowed: {', '.join(KEYS)}" for key in data if key not in KEYS]
    step = by_key.get(str(data.get("step", "")))
    if step is None:
        problems.append(f"step = {data.get('step')!r}; allowed: {', '.join(by_key)}")
    date = data.get("date")
    if not isinstance(date, datetime.date) or isinstance(date, datetime.datetime):
        problems.append(f"date = {date!r}; allowed: a date without quotes, such as 2026-05-01")
    by = data.get("by")
    if not isinstance(by, str) or not by.strip():
        problems.append(f"by = {by!r}; allowed: the name of who did it, as text")
    not_done = data.get("not_done", "")
    if not isinstance(not_done, str):
        problems.append(f"not_done = {not_done!r}; allowed: the reason, as text")
        not_done = ""
    values = data.get("values", {})
    if step is not None:
        problems += _value_problems(step, values, bool(not_done))
    if problems:
        raise ResultError("\n".join(f"{where}: {problem}" for problem in problems))
    assert step is not None and isinstance(date, datetime.date)
    kept = {key: float(value) for key, value in values.items()}
    return Result(step.key, date, str(by), kept, str(data.get("note", "")), not_done)


def _value_problems(step: Step, values: Any, is_not_done: bool) -> list[str]:
    if not isinstance(values, dict):
        return [f"values = {values!r}; allowed: a table, one number for each measure"]
    wanted = {measure.key: measure for measure in step.measures}
    names = ", ".join(wanted)
    problems = [f"values.{key} is no measure of {step.key}; allowed: {names}" for key in values if key not in wanted]
    for key, value in values.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
            problems.append(f"values.{key} = {value!r}; allowed: a number")
    if not is_not_done:
        problems += [
            f"values.{key} is missing; {measure.words}, {measure.allowed}"
            for key, measure in wanted.items()
            if key not in values
        ]
    return problems


def keep_result(folder: Path, result: Result, installation: Installation, step: Step) -> Path:
    """Write a result into the folder, whole; an earlier one of the same step is kept beside it, numbered."""
    path = folder / f"{result.step}.toml"
    if path.exists():
        number = 1
        while (folder / f"{result.step}.{number}.toml").exists():
            number += 1
        write_whole(folder / f"{result.step}.{number}.toml", path.read_bytes())
    lines = [
        f'step = "{result.step}"',
        f"date = {result.date.isoformat()}",
        f"by = {_quoted(result.by)}",
        f"note = {_quoted(result.note)}",
        f"not_done = {_quoted(result.not_done)}",
        f'installation = "{installation.digest}"',
        f'sections_digest = "{sections_digest(installation, step.sections)}"',
        "",
        "[values]",
        *(f"{key} = {value!r}" for key, value in result.values.items()),
    ]
    return write_whole(path, "\n".join(lines) + "\n")


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    escaped = re.sub(r"[\x00-\x1f\x7f]", lambda found: f"\\u{ord(found.group()):04x}", escaped)
    return f'"{escaped}"'


def read_results(folder: Path, steps: list[Step]) -> dict[str, Result]:
    """Every kept result by step. Raises ResultError naming each file that cannot be used."""
    found: dict[str, Result] = {}
    problems: list[str] = []
    for step in steps:
        path = folder / f"{step.key}.toml"
        if not path.exists():
            continue
        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
            marks = {key: str(data.pop(key, "")) for key in ("sections_digest", "installation")}
            plain = parse_result(_without_marks(path), str(path), steps)
            found[step.key] = Result(**{**vars(plain), **marks})
        except (ResultError, tomllib.TOMLDecodeError, OSError, UnicodeDecodeError) as error:
            problems.append(str(error))
    if problems:
        raise ResultError("\n".join(problems))
    return found


def _without_marks(path: Path) -> str:
    lines = path.read_text(encoding="utf-8").splitlines()
    return "\n".join(line for line in lines if not line.startswith(("sections_digest =", "installation =")))


def standings(installation: Installation, steps: list[Step], results: dict[str, Result]) -> list[Standing]:
    """Where every step stands: the next one opens only when all before it are passed or declared not done."""
    found: list[Standing] = []
    is_clear = True
    for step in steps:
        standing = _standing(installation, step, results.get(step.key), is_clear)
        is_clear = is_clear and standing.status in ("passed", "not done")
        found.append(standing)
    return found


def _standing(installation: Installation, step: Step, result: Result | None, is_clear: bool) -> Standing:
    if result is None:
        why = "may be done now" if is_clear else "opens when every step before it is passed"
        return Standing(step, "open" if is_clear else "waits", None, why)
    if result.sections_digest != sections_digest(installation, step.sections):
        return Standing(step, "re-opened", result, f"the installation has changed since {result.date} where it matters")
    if result.not_done:
        return Standing(step, "not done", result, result.not_done)
    wrong = [
        f"{measure.words}: {result.values[measure.key]:g}, allowed {measure.allowed}"
        for measure in step.measures
        if not measure.allows(result.values[measure.key])
    ]
    if wrong:
        return Standing(step, "failed", result, "; ".join(wrong))
    return Standing(step, "passed", result, f"{result.date}, {result.by}")
