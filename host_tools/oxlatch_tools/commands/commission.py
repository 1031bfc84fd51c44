"""`oxlatch commission`: the test programme, its results, and what logs and traces say."""

from pathlib import Path
from typing import Any

import click

from oxlatch_sim.identity import firmware_digest
from oxlatch_tools.commands.plan import printed_date, read_installation, slug
from oxlatch_tools.commissioning.results import ResultError, Standing
from oxlatch_tools.installation import Installation, example
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output

RESULTS = Path("commissioning")
FILE = click.argument("file", required=False, type=click.Path(path_type=Path))
FOLDER = click.option(
    "--results",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=RESULTS,
    show_default=True,
    help="Folder of the results kept so far.",
)
MARKS = {"passed": "passed", "failed": "FAILED", "open": "open now", "waits": "waits"}


class Programme(click.Group):
    """A group whose first word may be left out: `oxlatch commission FILE` prints the programme."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put in `programme` where no step is named."""
        if not args or (args[0] not in self.commands and args[0] not in ("-h", "--help")):
            args = ["programme", *args]
        return super().parse_args(ctx, args)


@click.group("commission", cls=Programme)
def command() -> None:
    """Commission the installation in FILE step by step; the Alpine tug when none is named.

    `oxlatch commission FILE` prints every step, where it stands, and writes the sheets to fill in. `enter` keeps a
    filled-in sheet; `decay`, `trace` and `static` work out logs; `memo` prints the limit memo. Each takes --json.
    """


@command.command("programme")
@FILE
@FOLDER
@click.option("--date", "date_text", help="Date printed, YYYY-MM-DD; today's when not given.")
@out_option
@json_option
@reporting("commission")
def programme_command(
    file: Path | None, folder: Path, date_text: str | None, out_dir: Path, as_json: bool
) -> Outcome:
    """Print the programme of FILE and write its sheets. Exit 1 while a step has failed or is re-opened."""
    from oxlatch_tools.commissioning.sheets import programme_html

    installation = read_installation(file)
    found = stand(installation, folder)
    page = programme_html(installation, found, printed_date(date_text))
    path = write_output(out_dir, f"commissioning-{slug(installation.aircraft.name)}.html", page)
    bad = [item for item in found if item.status in ("failed", "re-opened")]
    sheet, next_line = next_sheet(found, file, out_dir)
    rows = []
    for number, item in enumerate(found, start=1):
        rows.append(f"{number:2}  {MARKS.get(item.status, item.status):10} {item.step.title}  [{item.step.key}]")
        if item.status != "waits":
            rows.append(f"    {'':10} {item.why}")
    text = "\n".join(
        [
            f"Commissioning of {installation.aircraft.name}, installation {installation.digest}. Results in {folder}.",
            "CAUTION: every sheet opens with its own; the engine maker, the gas supplier, local rules and licensed",
            "practice come first.",
            "",
            *rows,
            "",
            f"sheets  {path}",
            next_line,
        ]
    )
    result = {"steps": [row_of(item) for item in found], "sheets": str(path), "next": str(sheet) if sheet else None}
    return finished(installation, not bad, text, result)


@command.command("enter")
@click.argument("sheet", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@FILE
@FOLDER
@out_option
@json_option
@reporting("commission")
def enter_command(sheet: Path, file: Path | None, folder: Path, out_dir: Path, as_json: bool) -> Outcome:
    """Keep a filled-in SHEET (TOML: step, date, by, [values]) for FILE. Exit 1 when it does not pass."""
    from oxlatch_tools.commissioning.programme import programme
    from oxlatch_tools.commissioning.results import keep_result, parse_result

    installation = read_installation(file)
    steps = programme(installation)
    with bad_input_from(ResultError):
        result = parse_result(read_text(sheet), str(sheet), steps)
        before = next(item for item in stand(installation, folder) if item.step.key == result.step)
        if before.status == "waits":
            raise BadInput(f"{sheet}: step {result.step} is not open yet; {before.why}")
        path = keep_result(folder, result, installation, before.step)
        found = stand(installation, folder)
        after = next(item for item in found if item.step.key == result.step)
    blank, next_line = next_sheet(found, file, out_dir)
    text = f"{after.step.title}: {after.status}. {after.why}\nkept    {path}\n{next_line}"
    row = {**row_of(after), "kept": str(path), "next": str(blank) if blank else None}
    return finished(installation, after.status in ("passed", "not done"), text, row)


def next_sheet(found: list[Standing], file: Path | None, out_dir: Path) -> tuple[Path | None, str]:
    """The sheet of the step whose turn it is, written to fill in, and the line that says so."""
    from oxlatch_tools.commissioning.sheets import blank_sheet

    turn = next((item for item in found if item.status in ("failed", "re-opened", "open")), None)
    if turn is None:
        return None, "next    nothing: every step has passed or is declared not done"
    path = write_output(out_dir, f"sheet-{turn.step.key}.toml", blank_sheet(turn))
    line = " ".join(("oxlatch commission enter", str(path), *((str(file),) if file else ())))
    return path, f"next    {turn.step.title}: fill in {path}, then {line}"


@command.command("decay")
@click.argument("log", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--columns", required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--pressure-uncertainty", "sigma_bar", type=click.FloatRange(0.0, 10.0), default=0.05, show_default=True)
@click.option("--temperature-uncertainty", "sigma_k", type=click.FloatRange(0.0, 10.0), default=0.3, show_default=True)
@click.option("--allowed", "allowed_bar", type=click.FloatRange(0.0, 50.0), default=0.5, show_default=True)
@click.option("--volume", "volume_l", type=click.FloatRange(0.001, 1000.0), help="Volume under test, litres.")
@json_option
@reporting("commission")
def decay_command(
    log: Path,
    columns: Path,
    sigma_bar: float,
    sigma_k: float,
    allowed_bar: float,
    volume_l: float | None,
    as_json: bool,
) -> Outcome:
    """Work out a pressure decay LOG: absolute pressure and temperature of a shut volume of gas, in bar and kelvin.

    Exit 0 when the line holds, 1 when it leaks or the test cannot decide.
    """
    from oxlatch_tools.commissioning.decay import corrected_decay

    read = read_log(log, columns, ("time", "pressure", "temperature"))
    with bad_input_from(ValueError):
        found = corrected_decay(
            read.time_s,
            read.columns["pressure"],
            read.columns["temperature"],
            1e5 * sigma_bar,
            sigma_k,
            None if volume_l is None else volume_l / 1000,
        )
    verdict = found.verdict(1e5 * allowed_bar)
    text = (
        f"Drop, corrected for temperature: {found.drop_pa / 1e5:.3f} bar, uncertain by {found.band_pa / 1e5:.3f} bar, "
        f"in {found.duration_s / 60:.1f} min; allowed {allowed_bar:g} bar: {verdict}."
    )
    if found.leak_pa_m3_s is not None:
        text += f"\nLeak: {1e4 * found.leak_pa_m3_s:.4f} mbar L/s"
    if verdict == "not decided":
        text += "\nThe band spans the limit: log longer, or with better instruments."
    return Outcome("commission", verdict == "holds", {**vars(found), "verdict": verdict}, text=text)


@command.command("trace")
@click.argument("oxidizer", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("fuel", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--columns", required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@json_option
@reporting("commission")
def trace_command(oxidizer: Path, fuel: Path, columns: Path, as_json: bool) -> Outcome:
    """Work out valve times from logged traces (time, command, pressure) of an OXIDIZER and a FUEL valve."""
    from oxlatch_tools.commissioning.trace import lead_lines, valve_times

    found = []
    for path in (oxidizer, fuel):
        read = read_log(path, columns, ("time", "command", "pressure"))
        with bad_input_from(ValueError):
            found.append(valve_times(read.time_s, read.columns["command"], read.columns["pressure"]))
    lines = lead_lines(*found)
    text = "Times from the command to 90 % of the change of pressure, slowest of all edges.\n"
    text += "Lines to add to the installation by hand; oxlatch plan works out lead and tail from them:\n"
    text += "\n".join(lines)
    return Outcome("commission", True, {"oxidizer": vars(found[0]), "fuel": vars(found[1]), "lines": lines}, text=text)


@command.command("static")
@click.argument("logs", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--columns", required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--recording", "recordings", multiple=True, required=True, type=click.Path(exists=True, path_type=Path),
    help="The controller's recording of each log, in the same order.",
)  # fmt: skip
@click.option("--installation", "file", type=click.Path(path_type=Path), help="Installation file; the Alpine tug.")
@out_option
@json_option
@reporting("commission")
def static_command(
    logs: tuple[Path, ...], columns: Path, recordings: tuple[Path, ...], file: Path | None, out_dir: Path, as_json: bool
) -> Outcome:
    """Judge static engine runs of one step: LOGS of a data logger beside the controller's recordings.

    Exit 0 for go on, 1 for repeat or for stop and go back one step.
    """
    from oxlatch_tools.commissioning.overlay import overlay
    from oxlatch_tools.commissioning.static_run import Rules, bore_resonance_hz, judge

    if len(logs) != len(recordings):
        raise BadInput(f"{len(logs)} logs and {len(recordings)} recordings; allowed: one recording for each log")
    installation = read_installation(file)
    read, runs = measured(logs, columns, recordings)
    engine, limits = installation.engine, installation.limits
    rules = Rules(
        fuel_dip_share=limits.fuel_band,
        bottle_least_pa=limits.supply_cut,
        speed_low_rpm=engine.boost_speed_low,
        speed_high_rpm=engine.boost_speed_high,
    )
    found = judge(runs, rules)
    picture = write_output(out_dir, f"static-{logs[0].stem}.png", overlay(read, runs, f"Static runs: {logs[0].stem}"))
    lines = [f"VERDICT: {found.verdict}", *(f"  because {text}" for text in found.fired)]
    lines += [f"  not judged: {text}" for text in found.not_judged]
    for number, run in enumerate(runs, start=1):
        lines.append(f"run {number}: " + ", ".join(f"{key} {value:.4g}" for key, value in shown(vars(run)).items()))
    ring = bore_resonance_hz(engine.bore)
    lines.append(f"A cylinder of this bore rings near {ring / 1000:.1f} kHz when it knocks (estimate).")
    lines.append(f"overlay {picture}")
    result = {
        "verdict": found.verdict,
        "fired": found.fired,
        "not_judged": found.not_judged,
        "runs": [vars(run) for run in runs],
        "rules": vars(rules),
        "picture": str(picture),
    }
    return finished(installation, found.verdict == "go on", "\n".join(lines), result)


@command.command("allow")
@click.argument("step")
@FILE
@FOLDER
@out_option
@json_option
@reporting("commission")
def allow_command(step: str, file: Path | None, folder: Path, out_dir: Path, as_json: bool) -> Outcome:
    """Write a copy of FILE for one static STEP: its pattern allowed, so that the controller lets it through.

    The controller refuses patterns that were never tested; this is how the first test is flown. Flash the copy for
    these runs only, and FILE again afterwards.
    """
    from oxlatch_tools.commissioning.programme_engine import RUN_NOTE, static_file, static_pattern

    installation, text = read_installation(file), read_text(file or example("alpine_tug"))
    found = next((item for item in stand(installation, folder) if item.step.key == step), None)
    pattern = static_pattern(step)
    if found is None or pattern is None:
        keys = ", ".join(item.step.key for item in stand(installation, folder) if static_pattern(item.step.key))
        raise BadInput(f"step {step!r}; allowed: a static run, {keys}")
    if found.status == "waits":
        raise BadInput(f"step {step} is not open yet; {found.why}")
    path = write_output(out_dir, f"run-{step}.toml", static_file(text, installation, pattern))
    copy = read_installation(path)
    said = (
        f"{RUN_NOTE}: {path}, installation {copy.digest}\n"
        f"oxlatch flash --port PORT {path}   for these runs only; print no cards from it\n"
        f"oxlatch flash --port PORT {file or 'FILE'}   afterwards"
    )
    return finished(installation, True, said, {"step": step, "file": str(path), "installation": copy.digest})


@command.command("memo")
@FILE
@FOLDER
@click.option("--derating", type=click.FloatRange(0.0, 100.0), required=True, help="Per cent, chosen by the builder.")
@click.option("--date", "date_text", help="Date printed, YYYY-MM-DD; today's when not given.")
@out_option
@json_option
@reporting("commission")
def memo_command(
    file: Path | None, folder: Path, derating: float, date_text: str | None, out_dir: Path, as_json: bool
) -> Outcome:
    """Print the limit memo, to sign: the highest clean static step less the builder's derating."""
    from oxlatch_tools.commissioning.memo import MemoError, limit_memo
    from oxlatch_tools.commissioning.sheets import memo_html

    installation = read_installation(file)
    found = stand(installation, folder)
    with bad_input_from(MemoError):
        memo = limit_memo(installation, found, derating / 100)
    text = memo.text(installation)
    page = memo_html(installation, text, printed_date(date_text))
    path = write_output(out_dir, f"limit-memo-{slug(installation.aircraft.name)}.html", page)
    return finished(installation, True, f"{text}\n\nto sign {path}", {**vars(memo), "page": str(path)})


def stand(installation: Installation, folder: Path) -> list[Standing]:
    """Where every step stands. Raises BadInput for results that cannot be used."""
    from oxlatch_tools.commissioning.programme import programme
    from oxlatch_tools.commissioning.results import read_results, standings

    steps = programme(installation)
    with bad_input_from(ResultError):
        return standings(installation, steps, read_results(folder, steps))


def row_of(item: Standing) -> dict[str, Any]:
    """One step for machines."""
    date = item.result.date.isoformat() if item.result else None
    return {"step": item.step.key, "title": item.step.title, "status": item.status, "why": item.why, "date": date}


def read_text(path: Path) -> str:
    """A text file. Raises BadInput."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path}: cannot be read as UTF-8 text ({error})") from error


def read_log(path: Path, columns: Path, needed: tuple[str, ...]) -> Any:
    """A log by its column file. Raises BadInput."""
    from oxlatch_tools.commissioning.logger import LoggerError, parse_columns, parse_log

    with bad_input_from(LoggerError):
        return parse_log(read_text(path), str(path), parse_columns(read_text(columns), str(columns), needed))


def measured(logs: tuple[Path, ...], columns: Path, recordings: tuple[Path, ...]) -> tuple[list[Any], list[Any]]:
    """Every log and what its run showed. Raises BadInput with the problems of all of them."""
    from oxlatch_sim.recording import RecordingError, read_recording
    from oxlatch_tools.commissioning.static_run import RunError, measure

    read, runs, problems = [], [], []
    for path, recording in zip(logs, recordings, strict=True):
        try:
            read.append(read_log(path, columns, ("time", "detent")))
            runs.append(measure(read[-1], read_recording(recording)))
        except BadInput as error:
            problems.append(str(error))
        except (RunError, RecordingError) as error:
            problems.append(f"{path} with {recording}: {error}")
    if problems:
        raise BadInput("\n".join(dict.fromkeys(problems)))
    return read, runs


def shown(values: dict[str, Any]) -> dict[str, float]:
    """The numbers among some values."""
    return {key: value for key, value in values.items() if isinstance(value, float)}


def finished(installation: Installation, is_ok: bool, text: str, result: dict[str, Any]) -> Outcome:
    """An outcome that names installation and firmware."""
    return Outcome("commission", is_ok, result, installation=installation.digest, firmware=firmware_digest(), text=text)
