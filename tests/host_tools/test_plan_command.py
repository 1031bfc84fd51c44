"""`oxlatch plan` as people and machines call it."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from oxlatch import settings as record
from oxlatch_tools.commands.plan import command
from oxlatch_tools.installation import example, load_installation, parse_installation
from oxlatch_tools.new_installation import MARK, Answers, starting_text

TUG = example("alpine_tug").read_text(encoding="utf-8")
TODAY = ["today", "--elevation", "1950 m", "--qnh", "1013.25 hPa", "--oat", "22 degC"]


def call(*arguments):
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def file_of(tmp_path, *pairs):
    text = TUG
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_tug_is_planned_when_no_file_is_named(tmp_path):
    found = call("--out", tmp_path, "--date", "2026-05-01")
    assert found.exit_code == 0, found.output
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"plan-alpine-tug.html", "plan-alpine-tug.json", "settings-alpine-tug.bin"}
    packed = (tmp_path / "settings-alpine-tug.bin").read_bytes()
    assert record.unpack(packed, record.Settings()) == record.GOOD
    digest = load_installation(example("alpine_tug")).digest
    assert json.loads((tmp_path / "plan-alpine-tug.json").read_text())["installation"] == digest
    assert digest in found.output


def test_an_exceeded_limit_is_exit_1_with_all_pages_written(tmp_path):
    path = file_of(tmp_path, ('alternator = "95 A"', 'alternator = "45 A"'), ('purge = "3.5 s"', 'purge = "1 s"'))
    found = call(path, "--json", "--out", tmp_path / "out")
    data = json.loads(found.output)
    assert (found.exit_code, data["command"], data["ok"], data["exit"]) == (1, "plan", False, 1)
    assert len(data["result"]["pages"]) == 9
    assert any(problem.startswith("timing.purge") for problem in data["problems"])
    assert any(problem.startswith("stages 2+3") for problem in data["problems"])
    assert (tmp_path / "out" / "plan-alpine-tug.html").exists()


BAD = [
    ((('power = "228 kW"', 'power = "200 kW"'),), ["ceiling.power", "more than engine.rated_power", "line "]),
    ((('oxidizer_jet = "0.38 mm"', 'oxidizer_jet = "0.1 mm"'),), ["stages[1].oxidizer_jet", "0.2 mm to 5 mm"]),
    (
        (('power = "228 kW"', 'power = "228 bar"'), ("siphon = true", "siphoned = true")),
        ["ceiling.power", "bottle.siphoned"],
    ),
    ((('block_drop = "5 %"', 'block_drop = "0.1 %"'),), ["limits.block_drop", "10 to 2000 mV"]),
]


@pytest.mark.parametrize(("pairs", "words"), BAD)
def test_what_cannot_be_computed_is_exit_2_and_writes_nothing(tmp_path, pairs, words):
    path = file_of(tmp_path, *pairs)
    found = call(path, "--out", tmp_path / "out")
    assert found.exit_code == 2
    for word in words:
        assert word in found.output
    assert "Traceback" not in found.output
    assert not (tmp_path / "out").exists()


def test_a_missing_file_and_a_bad_date_are_exit_2(tmp_path):
    assert call(tmp_path / "none.toml").exit_code == 2
    found = call("--date", "1.5.2026", "--out", tmp_path / "out")
    assert found.exit_code == 2 and "YYYY-MM-DD" in found.output
    assert not (tmp_path / "out").exists()


def test_an_output_folder_that_is_a_file_is_exit_2(tmp_path):
    (tmp_path / "out").write_text("not a folder")
    assert call("--out", tmp_path / "out").exit_code == 2


def test_today_answers_in_one_line_with_no_boost_beside_it():
    found = call(*TODAY)
    assert found.exit_code == 0
    (line,) = found.output.strip().splitlines()
    assert "stage 3" in line and "no boost, or boost lost" in line and "kW" in line


def test_today_speaks_us_units_and_json():
    found = call(*TODAY, "--units", "us")
    assert "hp" in found.output and "ft" in found.output and "inHg" in found.output
    data = json.loads(call(*TODAY, "--json").output)["result"]
    assert data["pattern"] == [3]
    assert data["no_boost_least_w"] < data["no_boost_most_w"] < data["boosted_w"] <= data["limit_w"]


@pytest.mark.parametrize(
    ("option", "value", "allowed"),
    [
        ("--elevation", "1950", "-300 m to 4800 m"),
        ("--elevation", "9000 m", "-300 m to 4800 m"),
        ("--qnh", "29.92 psi", "900 hPa to 1080 hPa"),
        ("--oat", "22 C", "-40 degC to 50 degC"),
    ],
)
def test_today_refuses_what_it_cannot_read(option, value, allowed):
    arguments = list(TODAY)
    arguments[arguments.index(option) + 1] = value
    found = call(*arguments)
    assert found.exit_code == 2 and option in found.output and allowed in found.output


def test_today_needs_all_three_and_they_need_today():
    found = call("today", "--elevation", "1950 m")
    assert found.exit_code == 2 and "--qnh is missing" in found.output
    assert call("--oat", "22 degC").exit_code == 2
    found = call(*TODAY, "--dew-point", "30 degC")
    assert found.exit_code == 2 and "--dew-point" in found.output


ANSWERS = "Test bird\nus\n28\n4\n5 in\n4.25 in\n150 hp\n2650 rpm\n165 hp\n15 hp, 25 hp\n10 lb\n407 in3\n"


def test_a_few_questions_make_a_file_that_can_be_planned(tmp_path):
    path = tmp_path / "new.toml"
    found = CliRunner().invoke(command, ["--new", str(path)], input=ANSWERS)
    assert found.exit_code == 0, found.output
    text = path.read_text(encoding="utf-8")
    installation = parse_installation(text)
    assert installation.aircraft.name == "Test bird" and not installation.aircraft.example
    assert [stage.power for stage in installation.stages] == pytest.approx([15 * 745.7, 25 * 745.7], rel=1e-4)
    assert installation.tested.patterns == [] and installation.ceiling.propeller_power is None
    assert "LIMIT EXCEEDED: tested.patterns: no tested figures" in call(path, "--out", tmp_path).output
    assert CliRunner().invoke(command, ["--new", str(path)], input=ANSWERS).exit_code == 2


def test_every_value_that_was_not_asked_is_marked():
    text = starting_text(
        Answers(
            "X", "metric", "14", 6, "126 mm", "112 mm", "205 kW", "2600 rpm", "228 kW", ("18 kW",), "4.5 kg", "6.7 L"
        )
    )
    unmarked = [
        line for line in text.splitlines() if " = " in line and not line.endswith(MARK) and not line.startswith("#")
    ]
    keys = [line.split(" = ")[0] for line in unmarked]
    asked = {
        "format",
        "name",
        "example",
        "units",
        "cylinders",
        "bore",
        "stroke",
        "rated_power",
        "rated_speed",
        "power",
        "evidence",
    }
    asked |= {"charge", "volume", "delivery", "nozzles", "at_hand", "pump", "fitted"}
    assert set(keys) == asked


def test_contradictory_answers_write_nothing(tmp_path):
    path = tmp_path / "new.toml"
    found = CliRunner().invoke(command, ["--new", str(path)], input=ANSWERS.replace("165 hp", "140 hp"))
    assert found.exit_code == 2 and "ceiling.power" in found.output
    assert not path.exists()


def test_the_one_line_answer_loads_no_property_library():
    """What makes it quick: fluid properties, solvers and drawing stay out. The seconds are measured by the bench."""
    program = (
        "import sys\nfrom oxlatch_tools.cli import main\n"
        f"try:\n    main({['plan', *TODAY]!r})\nexcept SystemExit as end:\n    assert end.code == 0\n"
        "print(sorted({'CoolProp', 'scipy.optimize', 'matplotlib', 'fpdf'} & set(sys.modules)))"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.strip().endswith("[]")
