"""`oxlatch plan`: from one installation file to everything that is decided before metal is cut."""

import datetime
import re
import sys
from pathlib import Path
from typing import Any

import click
from pydantic_core import PydanticCustomError

from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.physics.validity import PhysicsRangeError
from oxlatch_tools.installation import Installation, InstallationError, example, load_installation
from oxlatch_tools.installation_quantities import Quantity
from oxlatch_tools.installation_settings import record_bytes, settings_of
from oxlatch_tools.outcome import BadInput, Outcome, bad_input_from, json_option, out_option, reporting, write_output
from oxlatch_tools.presentation import Units, quantity_text

ELEVATION = Quantity("length", "m", -300, 4800)
ALTIMETER = Quantity("pressure", "hPa", 900, 1080)
AIR = Quantity("temperature", "degC", -40, 50)
DATE_PATTERN = re.compile(r"\d{4}-\d{2}-\d{2}")


@click.command("plan")
@click.argument("what", required=False, metavar="[FILE | today]")
@click.option(
    "--new",
    "new_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Ask a few questions and write a starting FILE.",
)
@click.option("--units", type=click.Choice(["metric", "us"]), help="Units of the output instead of the file's.")
@click.option(
    "--against-simulator", is_flag=True, help="Fly two patterns on the virtual bench and compare; exit 1 beyond 3 %."
)
@click.option("--date", "date_text", help="Date printed on the plan, YYYY-MM-DD; today's when not given.")
@click.option(
    "--installation", "installation_path", type=click.Path(dir_okay=False, path_type=Path), help="With today: the file."
)
@click.option("--elevation", help='With today: field elevation, such as "1950 m".')
@click.option("--qnh", help='With today: altimeter setting, such as "1013 hPa" or "29.92 inHg".')
@click.option("--oat", help='With today: outside air temperature, such as "22 degC".')
@click.option("--dew-point", help="With today: dew point; dry air when not given.")
@out_option
@json_option
@reporting("plan")
def command(
    what: str | None,
    new_file: Path | None,
    units: Units | None,
    against_simulator: bool,
    date_text: str | None,
    installation_path: Path | None,
    elevation: str | None,
    qnh: str | None,
    oat: str | None,
    dew_point: str | None,
    out_dir: Path,
    as_json: bool,
) -> Outcome:
    """Plan the installation in FILE, the Alpine tug when none is named.

    Writes one page (HTML), the same numbers (JSON) and the settings record. `oxlatch plan today --elevation --qnh
    --oat` answers in one line which stages fit here and now. Exit 1 when a limit is exceeded.
    """
    if new_file is not None:
        return write_new(new_file)
    if what == "today":
        return plan_today(installation_path, elevation, qnh, oat, dew_point, units)
    if elevation or qnh or oat or dew_point:
        raise BadInput("--elevation, --qnh, --oat and --dew-point go with `oxlatch plan today`")
    path = Path(what) if what else installation_path
    return plan_file(path, units, against_simulator, printed_date(date_text), out_dir, as_json)


def printed_date(text: str | None) -> str:
    """The date to print. Raises BadInput."""
    if text is None:
        return datetime.date.today().isoformat()
    try:
        if not DATE_PATTERN.fullmatch(text):
            raise ValueError
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise BadInput(f"--date: {text!r} is not a date; allowed: YYYY-MM-DD") from error


def read_installation(path: Path | None) -> Installation:
    """The file, or the Alpine tug. Raises BadInput."""
    with bad_input_from(InstallationError):
        return load_installation(path or example("alpine_tug"))


def slug(name: str) -> str:
    """A name for files."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "aircraft"


def plan_file(
    path: Path | None, units: Units | None, against_simulator: bool, date: str, out_dir: Path, as_json: bool
) -> Outcome:
    """Plan one file and write its three outputs."""
    installation = read_installation(path)
    with bad_input_from(InstallationError):
        record = record_bytes(settings_of(installation))
    from oxlatch_tools.planning.plan import make_plan
    from oxlatch_tools.planning.report import report_data, report_html, report_text

    shown = units or installation.aircraft.units
    with bad_input_from(PhysicsRangeError), waiting(as_json):
        plan = make_plan(installation)
        if against_simulator:
            from oxlatch_tools.planning.against_bench import agreement_page

            plan.pages.append(agreement_page(plan))
        page = report_html(plan, shown, date, firmware_digest())
    name = slug(installation.aircraft.name)
    data = report_data(plan)
    files = {
        "page": write_output(out_dir, f"plan-{name}.html", page),
        "numbers": write_output(out_dir, f"plan-{name}.json", json_text(data, installation)),
        "settings": write_output(out_dir, f"settings-{name}.bin", record),
    }
    written = {key: str(value) for key, value in files.items()}
    text = report_text(plan, shown) + "\n\n" + "\n".join(f"{key:9} {value}" for key, value in written.items())
    problems = [finding.text() for _page, finding in plan.findings() if finding.severity == "exceeded"]
    return Outcome(
        "plan",
        ok=plan.is_within_limits,
        result={**data, "files": written},
        problems=problems if as_json else [],
        installation=installation.digest,
        firmware=firmware_digest(),
        text=text,
    )


def json_text(data: dict[str, Any], installation: Installation) -> str:
    """The numbers as a file of their own."""
    import json

    return json.dumps({"format": 1, "installation": installation.digest, **data}, indent=1, ensure_ascii=False) + "\n"


def waiting(as_json: bool) -> Any:
    """A sign of life on the terminal while it takes its seconds."""
    from rich.console import Console

    console = Console(stderr=True, quiet=as_json or not sys.stderr.isatty())
    return console.status("Planning")


def quantity(option: str, text: str | None, kind: Quantity) -> float:
    """One option with its unit. Raises BadInput."""
    if text is None:
        raise BadInput(f"{option} is missing; allowed: {kind.allowed()}")
    try:
        return kind.read(text)
    except PydanticCustomError as error:
        context = error.context or {}
        raise BadInput(f"{option}: {text!r} {context.get('what')}; allowed: {kind.allowed()}") from error


def plan_today(
    path: Path | None,
    elevation: str | None,
    qnh: str | None,
    oat: str | None,
    dew_point: str | None,
    units: Units | None,
) -> Outcome:
    """One line for here and now, the line without boost beside it."""
    elevation_m = quantity("--elevation", elevation, ELEVATION)
    altimeter_pa = quantity("--qnh", qnh, ALTIMETER)
    temperature_k = quantity("--oat", oat, AIR)
    dew_point_k = None if dew_point is None else quantity("--dew-point", dew_point, AIR)
    if dew_point_k is not None and dew_point_k > temperature_k:
        raise BadInput(f"--dew-point: {dew_point!r} is above the air temperature; allowed: up to --oat")
    installation = read_installation(path)
    from oxlatch_tools.planning.air import least_base_power_w
    from oxlatch_tools.planning.altitude import today
    from oxlatch_tools.planning.page import pattern_name

    with bad_input_from(PhysicsRangeError):
        answer = today(installation, elevation_m, altimeter_pa, temperature_k, dew_point_k)
        least_w = least_base_power_w(installation, answer.air)
    shown = units or installation.aircraft.units
    name = pattern_name(answer.pattern) if answer.pattern else None

    def words(value: float, kind: str) -> str:
        return quantity_text(value, kind, shown)

    where = (
        f"{installation.aircraft.name}, {words(elevation_m, 'altitude')}, {words(altimeter_pa, 'altimeter')}, "
        f"{words(temperature_k, 'temperature')}: density altitude {words(answer.air.density_altitude_m, 'altitude')}"
    )
    boost = f"stage {name}, {words(answer.boosted_w, 'power')} with boost" if name else "no pattern is allowed"
    text = (
        f"{where}; {boost} (limit {words(answer.limit_w, 'power')}); "
        f"no boost, or boost lost: {words(least_w, 'power')} to {words(answer.base_w, 'power')}."
    )
    return Outcome(
        "plan",
        ok=True,
        result={
            "pattern": list(answer.pattern or ()),
            "density_altitude_m": answer.air.density_altitude_m,
            "pressure_altitude_m": answer.air.pressure_altitude_m,
            "boosted_w": answer.boosted_w,
            "no_boost_most_w": answer.base_w,
            "no_boost_least_w": least_w,
            "limit_w": answer.limit_w,
        },
        installation=installation.digest,
        firmware=firmware_digest(),
        text=text,
    )


def write_new(path: Path) -> Outcome:
    """Ask, check the answers, write the file."""
    from oxlatch_tools.new_installation import Answers, starting_text

    if path.exists():
        raise BadInput(f"{path}: exists already; allowed: a name that is free")
    answers = Answers(
        name=click.prompt("Aircraft", type=str, err=True),
        units=click.prompt("Units of pages and cards", type=click.Choice(["metric", "us"]), err=True),
        volts=click.prompt("Bus voltage", type=click.Choice(["14", "28"]), err=True),
        cylinders=click.prompt("Cylinders", type=click.IntRange(1, 18), err=True),
        bore=click.prompt('Bore, such as "126 mm"', err=True),
        stroke=click.prompt("Stroke", err=True),
        power=click.prompt('Rated power, such as "205 kW"', err=True),
        speed=click.prompt('Rated speed, such as "2600 rpm"', err=True),
        ceiling=click.prompt("Your own ceiling for boosted power", err=True),
        stages=tuple(
            part.strip()
            for part in click.prompt('Stage powers, ascending, such as "18 kW, 30 kW"', err=True).split(",")
        ),
        bottle_charge=click.prompt("Nitrous in one full bottle, by weight", err=True),
        bottle_volume=click.prompt("Water volume of one bottle", err=True),
    )
    with bad_input_from(InstallationError):
        text = starting_text(answers)
    written = write_output(path.parent, path.name, text)
    marks = text.count("# REPLACE")
    words = (
        f"{written} written; {marks} values of an invented aircraft in it wait to be replaced. Next: oxlatch "
        f"plan {written}"
    )
    return Outcome("plan", ok=True, result={"file": str(written), "to_replace": marks}, text=words)
