"""What was measured: one TOML file a step, kept with date, name and digest; and which step may be done next.

A result counts while what its step rests on is as it was: sections of the installation, the controller's settings,
the firmware. Digests of them are kept with it, and a change re-opens the step.
"""

import datetime
import math
import re
import tomllib
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from oxlatch.settings import FIELDS
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.whole_file import write_whole
from oxlatch_tools.cards.changes import section_values
from oxlatch_tools.commissioning.step import Step
from oxlatch_tools.installation import Installation
from oxlatch_tools.installation_settings import settings_of

Status = Literal["passed", "failed", "not done", "re-opened", "open", "waits"]
KEYS = ("step", "date", "by", "values", "note", "not_done", "changed")
MARKS = ("basis", "installation", "firmware")
"""Written when a sheet is kept, not by hand."""
EMPTY = re.compile(r"\s*([A-Za-z0-9_]+)\s*=\s*(?:#.*)?$")
"""A line of a sheet that nobody has filled in."""
NOT_COMPARED = ("installation_high", "installation_low")


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
    changed: str = ""
    basis: str = ""
    installation: str = ""
    firmware: str = ""


@dataclass(frozen=True)
class Standing:
    """Where one step stands and why."""

    step: Step
    status: Status
    result: Result | None
    why: str


@dataclass(frozen=True)
class Kept:
    """One kept result of a step, an earlier one or the last, with the rules it failed."""

    step: Step
    result: Result
    failed: tuple[str, ...]


def basis_digest(installation: Installation, step: Step) -> str:
    """8 hex digits over all that a step rests on: values of its sections of the installation, and, where the
    controller's own settings are what is tested, every field of their record but the installation's digest."""
    values = section_values(installation, step.sections)
    lines = [f"{'.'.join(str(part) for part in path)}={value}" for path, value in values]
    if step.of_settings:
        settings = settings_of(installation)
        lines += [f"{name}={getattr(settings, name)}" for name, *_rest in FIELDS if name not in NOT_COMPARED]
    return f"{zlib.crc32(chr(10).join(lines).encode()):08x}"


def parse_result(text: str, where: str, steps: list[Step], is_kept: bool = False) -> Result:
    """A filled-in sheet from TOML. One kept earlier may hold other measures than its step asks for now.

    Raises ResultError with every problem at once.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        empty = [
            f"{where}: line {number}: {found.group(1)} is not filled in"
            for number, line in enumerate(text.splitlines(), start=1)
            if (found := EMPTY.match(line))
        ]
        raise ResultError("\n".join(empty) or f"{where}: not TOML: {error}") from error
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
    changed = data.get("changed", "")
    if not isinstance(changed, str):
        problems.append(f"changed = {changed!r}; allowed: what was changed since the failed try, as text")
    values = data.get("values", {})
    if step is not None:
        problems += _number_problems(values)
        if not is_kept and isinstance(values, dict):
            problems += _measure_problems(step, values, bool(not_done))
    if problems:
        raise ResultError("\n".join(f"{where}: {problem}" for problem in problems))
    assert step is not None and isinstance(date, datetime.date)
    kept = {key: float(value) for key, value in values.items()}
    return Result(step.key, date, str(by), kept, str(data.get("note", "")), not_done, changed)


def _number_problems(values: Any) -> list[str]:
    if not isinstance(values, dict):
        return [f"values = {values!r}; allowed: a table, one number for each measure"]
    return [
        f"values.{key} = {value!r}; allowed: a number"
        for key, value in values.items()
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value)
    ]


def _measure_problems(step: Step, values: dict[str, Any], is_not_done: bool) -> list[str]:
    wanted = {measure.key: measure for measure in step.measures}
    names = ", ".join(wanted)
    problems = [f"values.{key} is no measure of {step.key}; allowed: {names}" for key in values if key not in wanted]
    if not is_not_done:
        problems += [
            f"values.{key} is missing; {measure.words}, {measure.allowed}"
            for key, measure in wanted.items()
            if key not in values
        ]
    return problems


def keep_result(folder: Path, result: Result, installation: Installation, step: Step) -> Path:
    """Write a result into the folder, whole; an earlier one of the same step is kept beside it, numbered.

    Raises ResultError when the earlier one failed and the new one does not say what was changed.
    """
    path = folder / f"{result.step}.toml"
    if path.exists():
        earlier = read_result(path, [step])
        if failures(step, earlier) and not result.changed.strip():
            raise ResultError(
                f"step {step.key} failed on {earlier.date}; the sheet of its repeat needs a line changed = \"...\": "
                "what was changed since, or why nothing was"
            )
        number = 1
        while (folder / f"{result.step}.{number}.toml").exists():
            number += 1
        write_whole(folder / f"{result.step}.{number}.toml", path.read_bytes())
    texts = {"by": result.by, "note": result.note, "not_done": result.not_done, "changed": result.changed}
    lines = [
        f'step = "{result.step}"',
        f"date = {result.date.isoformat()}",
        *(f"{key} = {_quoted(text)}" for key, text in texts.items()),
        f'installation = "{installation.digest}"',
        f'basis = "{basis_digest(installation, step)}"',
        f'firmware = "{firmware_digest()}"',
        "",
        "[values]",
        *(f"{key} = {value!r}" for key, value in result.values.items()),
    ]
    return write_whole(path, "\n".join(lines) + "\n")


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    escaped = re.sub(r"[\x00-\x1f\x7f]", lambda found: f"\\u{ord(found.group()):04x}", escaped)
    return f'"{escaped}"'


def read_result(path: Path, steps: list[Step]) -> Result:
    """One kept result. Raises ResultError."""
    try:
        text = path.read_text(encoding="utf-8")
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, OSError, UnicodeDecodeError) as error:
        raise ResultError(f"{path}: {error}") from error
    marks = {key: str(data.get(key, "")) for key in MARKS}
    starts = tuple(f"{key} =" for key in MARKS)
    plain = "\n".join(line for line in text.splitlines() if not line.startswith(starts))
    return Result(**{**vars(parse_result(plain, str(path), steps, is_kept=True)), **marks})


def read_results(folder: Path, steps: list[Step]) -> dict[str, Result]:
    """The last kept result of every step. Raises ResultError naming each file that cannot be used."""
    return {key: kept[-1].result for key, kept in read_history(folder, steps).items()}


def read_history(folder: Path, steps: list[Step]) -> dict[str, list[Kept]]:
    """Every kept result of every step that has one, oldest first. Raises ResultError for all files at once."""
    found: dict[str, list[Kept]] = {}
    problems: list[str] = []
    for step in steps:
        numbered = sorted(folder.glob(f"{step.key}.*.toml"), key=lambda path: int(path.suffixes[-2][1:]))
        for path in (*numbered, folder / f"{step.key}.toml"):
            if not path.exists():
                continue
            try:
                result = read_result(path, steps)
            except ResultError as error:
                problems.append(str(error))
                continue
            found.setdefault(step.key, []).append(Kept(step, result, tuple(failures(step, result))))
    if problems:
        raise ResultError("\n".join(problems))
    return found


def failures(step: Step, result: Result) -> list[str]:
    """Every rule of the step that the result breaks, in words; none for one declared not done."""
    if result.not_done:
        return []
    return [
        f"{measure.words}: {result.values[measure.key]:g}, allowed {measure.allowed}"
        for measure in step.measures
        if measure.key in result.values and not measure.allows(result.values[measure.key])
    ]


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
    if result.basis != basis_digest(installation, step):
        return Standing(step, "re-opened", result, f"the installation has changed since {result.date} where it matters")
    if step.of_firmware and result.firmware != firmware_digest():
        why = f"made with firmware {result.firmware or 'not stated'}, this is {firmware_digest()}"
        return Standing(step, "re-opened", result, why)
    if result.not_done:
        return Standing(step, "not done", result, result.not_done)
    new = [measure.words for measure in step.measures if measure.key not in result.values]
    if new:
        return Standing(step, "re-opened", result, f"not measured on {result.date}: {'; '.join(new)}")
    wrong = failures(step, result)
    if wrong:
        return Standing(step, "failed", result, "; ".join(wrong))
    return Standing(step, "passed", result, f"{result.date}, {result.by}")
