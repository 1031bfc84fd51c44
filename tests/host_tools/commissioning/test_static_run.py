"""A static run is laid over the recording by the detent event and judged by stated rules.

The logs are synthetic: a stated level, a stated step while flowing, and a little noise.
"""

import math

import pytest

from oxlatch.settings import Settings
from oxlatch_sim.plant.parameters import alpine_tug_parameters
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.commissioning.logger import LoggerError, parse_columns, parse_log
from oxlatch_tools.commissioning.overlay import overlay
from oxlatch_tools.commissioning.static_run import Rules, RunError, flow_window, judge, measure

COLUMNS = """
[columns.time]
heading = "Time"
unit = "s"
[columns.detent]
heading = "Detent"
[columns.thrust]
heading = "Thrust"
unit = "kN"
[columns.knock]
heading = "Knock"
[columns.rpm]
heading = "RPM"
unit = "rpm"
[columns.egt_1]
heading = "EGT1"
unit = "degC"
[columns.egt_2]
heading = "EGT2"
unit = "degC"
[columns.cht_1]
heading = "CHT1"
unit = "degF"
[columns.manifold]
heading = "MAP"
unit = "inHg"
[columns.fuel_pressure]
heading = "FP"
unit = "bar"
[columns.bottle_pressure]
heading = "BP"
unit = "psi"
"""
HEADINGS = "Time,Detent,Thrust,Knock,RPM,EGT1,EGT2,CHT1,MAP,FP,BP"
BEGIN = 100.0  # the logger's own clock


@pytest.fixture(scope="module")
def recording():
    """One push of two stages, released: the part of a scenario up to its first run's end."""
    outcome = play(load(find("throttle-chopped-in-flow")), alpine_tug_parameters(), Settings())
    return parse_recording(outcome.recorder.end())


@pytest.fixture(scope="module")
def columns():
    return parse_columns(COLUMNS, "columns.toml", ("time", "detent"))


def log_text(recording, spread=20.0, knock=0, gain=0.6, gap=False, dip=0.0, rate=50) -> str:
    closed, _opened, shut = flow_window(recording)
    flow_s = shut - closed
    rows = [HEADINGS]
    for i in range(int((flow_s + 8) * rate)):
        time = i / rate
        flowing = 5.0 <= time <= 5.0 + flow_s
        if gap and 5.8 < time < 6.6:
            continue
        noise = math.sin(37.0 * i) * 0.005
        knocks = knock if flowing and i % 40 == 0 else 0
        thrust = 2.0 + (gain if flowing else 0.0) + noise
        egt = 700.0 + (spread if flowing else 5.0)
        fuel = 0.5 - (dip if flowing else 0.0)
        rows.append(
            f"{BEGIN + time:.3f},{int(flowing)},{thrust:.4f},{knocks},2600,700,{egt:.1f},330,28.5,{fuel:.3f},760"
        )
    return "\n".join(rows)


def run_of(recording, columns, **changes):
    return measure(parse_log(log_text(recording, **changes), "log.csv", columns), recording)


RULES = Rules(speed_low_rpm=2300, speed_high_rpm=2750)


def test_values_come_out_in_kept_units_and_from_the_flow_alone(recording, columns):
    run = run_of(recording, columns)
    assert run.thrust_before_n == pytest.approx(2000, rel=0.01)
    assert run.thrust_gain_n == pytest.approx(600, rel=0.02)
    assert run.exhaust_spread_k == pytest.approx(20, abs=0.1)
    assert run.bottle_least_pa == pytest.approx(760 * 6894.757, rel=1e-4)
    assert run.knock_counts == 0 and run.not_logged == []


def test_two_clean_runs_alike_go_on(recording, columns):
    runs = [run_of(recording, columns), run_of(recording, columns, gain=0.61)]
    found = judge(runs, RULES)
    assert (found.verdict, found.fired) == ("go on", [])


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"knock": 1}, "knock events"), ({"spread": 80.0}, "exhaust spread"), ({"dip": 0.1}, "fuel pressure dip")],
)
def test_one_rule_broken_stops_and_is_named(recording, columns, changes, words):
    found = judge([run_of(recording, columns), run_of(recording, columns, **changes)], RULES)
    assert found.verdict == "stop, go back one step"
    assert any(words in text and text.startswith("run 2") for text in found.fired)


def test_one_run_a_gap_or_runs_apart_are_repeated(recording, columns):
    one = run_of(recording, columns)
    assert judge([one], RULES).verdict == "repeat"
    assert "gap" in judge([one, run_of(recording, columns, gap=True)], RULES).fired[0]
    assert "thrust gains differ" in judge([one, run_of(recording, columns, gain=0.4)], RULES).fired[0]


def test_what_was_not_logged_is_not_judged_and_is_said(recording):
    text = "\n".join(COLUMNS.split("[columns.thrust]")[:1])
    columns = parse_columns(text, "columns.toml", ("time", "detent"))
    run = measure(parse_log(log_text(recording), "log.csv", columns), recording)
    found = judge([run, run], RULES)
    assert "run 1: knock was not logged" in found.not_judged


def test_the_log_must_show_one_event(recording, columns):
    text = log_text(recording)
    none = "\n".join(line if line == HEADINGS else line.replace(",1,", ",0,", 1) for line in text.splitlines())
    with pytest.raises(RunError, match="0 detent events; allowed: one; log the detent contact"):
        measure(parse_log(none, "log.csv", columns), recording)
    lines = text.splitlines()
    twice = "\n".join([*lines, *(_later(line) for line in lines[1:])])
    second = len(lines) + 250
    with pytest.raises(RunError, match=f"2 detent events .line 252 at 105.00 s, line {second + 1} at 155.00 s"):
        measure(parse_log(twice, "log.csv", columns), recording)


def _later(line: str) -> str:
    time, rest = line.split(",", 1)
    return f"{float(time) + 50:.3f},{rest}"


def faults_of(text: str, columns) -> list[str]:
    with pytest.raises(LoggerError) as caught:
        parse_log(text, "log.csv", columns)
    return str(caught.value).splitlines()


GOOD = "0,2,0,2600,700,700,330,28,0.5,760"


def test_every_fault_of_a_log_is_listed_with_its_line(columns):
    rows = [f"1,{GOOD}", "", "2,0,nan,0,2600,x,700,330,28,0.5,760", f"1.5,{GOOD}", f"9,{GOOD}"]
    found = faults_of("\n".join([HEADINGS, *rows]) + "\n", columns)
    assert len(found) == 3
    assert found[0].startswith("log.csv: line 4: thrust is 'nan'") and "line 4: egt_1 is 'x'" in found[1]
    assert "line 5: the clock jumps back from 2 s to 1.5 s" in found[2]


def test_a_missing_column_does_not_hide_the_other_faults(columns):
    found = faults_of("Time,Detent\n1,0\n2,7\n1,0\n", columns)
    assert sum("is missing; allowed: once" in line and "line 1:" in line for line in found) == 9
    assert any("line 3: detent is 7; allowed: 0 or 1" in line for line in found)
    assert any("line 4: the clock jumps back" in line for line in found)


def test_one_fault_over_many_lines_is_one_entry_and_none_is_cut_off(columns):
    rows = [f"{i},{GOOD.replace('2600', '') if i > 100 else GOOD}" for i in range(1000)]
    found = faults_of("\n".join([HEADINGS, *rows]), columns)
    assert found == ["log.csv: lines 103 to 1001: rpm is ''; allowed: a number (the first of them)"]


def test_a_clock_that_was_set_is_no_gap(columns):
    rows = [f"{0.02 * i + (3600 if i > 50 else 0):.2f},{GOOD}" for i in range(100)]
    found = faults_of("\n".join([HEADINGS, *rows]), columns)
    assert len(found) == 1 and "line 53: the clock leaps from 1 s to 3601.02 s" in found[0]
    gap = [f"{0.02 * i + (3 if i > 50 else 0):.2f},{GOOD}" for i in range(100)]
    assert parse_log("\n".join([HEADINGS, *gap]), "log.csv", columns).gap_s == pytest.approx(3.02)


def test_a_column_in_another_unit_than_stated_is_found(columns):
    found = faults_of("\n".join([HEADINGS, *(f"{i},{GOOD[:-3]}52e4" for i in range(3))]), columns)
    assert "bottle_pressure read in psi is 3.585e+09 Pa" in found[0] and "is its unit right?" in found[0]
    headed = parse_columns(COLUMNS.replace('heading = "BP"', 'heading = "BP (bar)"'), "c.toml", ("time", "detent"))
    found = faults_of("\n".join([HEADINGS.replace("BP", "BP (bar)"), f"1,{GOOD}", f"2,{GOOD}"]), headed)
    assert found == [
        "log.csv: line 1: column 'BP (bar)' (for bottle_pressure) says bar, the column file 'psi'; allowed: the same"
    ]


def test_an_empty_log_is_refused(columns):
    assert "empty" in faults_of("", columns)[0] and "0 samples" in faults_of(HEADINGS, columns)[0]


def test_a_column_file_with_a_wrong_unit_or_name_is_refused():
    text = '[columns.time]\nheading = "T"\nunit = "bar"\n[columns.smoke]\nheading = "S"\n[columns.rpm]\nunit = "rpm"\n'
    with pytest.raises(LoggerError) as caught:
        parse_columns(text, "c.toml", ("time", "detent"))
    message = str(caught.value)
    assert "columns.time: unit 'bar'" in message and "columns.smoke is no quantity" in message
    assert "columns.rpm needs a heading" in message and "columns.detent is missing" in message


def test_the_overlay_is_a_picture(recording, columns):
    log = parse_log(log_text(recording), "log.csv", columns)
    run = measure(log, recording)
    assert overlay([log, log], [run, run], "two runs")[:8] == b"\x89PNG\r\n\x1a\n"
