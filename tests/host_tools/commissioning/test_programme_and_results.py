"""The programme opens step by step, keeps what was measured, and re-opens what a change touches."""

import json

import pytest
from click.testing import CliRunner

from oxlatch_tools.commands.commission import command
from oxlatch_tools.commissioning.memo import MemoError, limit_memo
from oxlatch_tools.commissioning.programme import programme
from oxlatch_tools.commissioning.programme_engine import ascending_patterns, power_of
from oxlatch_tools.commissioning.results import keep_result, parse_result, read_results, standings
from oxlatch_tools.installation import example, load_installation


@pytest.fixture(scope="module")
def tug():
    return load_installation(example("alpine_tug"))


@pytest.fixture(scope="module")
def changed(tug):
    """The tug with a longer lead: a value of the timing section."""
    return tug.model_copy(update={"timing": tug.timing.model_copy(update={"lead": tug.timing.lead + 0.005})})


def passing_value(measure) -> float:
    if measure.low is not None and measure.high is not None:
        return (measure.low + measure.high) / 2
    if measure.high is not None:
        return measure.high
    return measure.low if measure.low is not None else 0.0


def sheet(step, **changes) -> str:
    values = {measure.key: passing_value(measure) for measure in step.measures}
    values.update(changes)
    lines = "\n".join(f"{key} = {value}" for key, value in values.items())
    return f'step = "{step.key}"\ndate = 2026-05-01\nby = "A. Builder"\n[values]\n{lines}\n'


def keep(folder, installation, steps, count, **changes):
    for step in steps[:count]:
        keep_result(folder, parse_result(sheet(step, **changes), "sheet", steps), installation, step)


def statuses(folder, installation):
    steps = programme(installation)
    return [item.status for item in standings(installation, steps, read_results(folder, steps))]


def test_every_step_opens_with_cautions_and_says_when_to_stop(tug):
    for step in programme(tug):
        assert step.cautions and any("engine maker" in text for text in step.cautions), step.key
        assert step.stop_rules and step.measures and step.purpose and (step.sections or step.of_settings)


def test_static_runs_come_in_ascending_power_and_cover_every_pattern(tug):
    patterns = ascending_patterns(tug)
    assert len(patterns) == 7
    powers = [power_of(tug, pattern) for pattern in patterns]
    assert powers == sorted(powers)


def test_the_next_step_opens_only_when_the_one_before_has_passed(tug, tmp_path):
    steps = programme(tug)
    assert statuses(tmp_path, tug)[:3] == ["open", "waits", "waits"]
    keep(tmp_path, tug, steps, 2)
    assert statuses(tmp_path, tug)[:4] == ["passed", "passed", "open", "waits"]


def test_a_value_outside_its_limits_fails_the_step_and_holds_the_next(tug, tmp_path):
    steps = programme(tug)
    keep(tmp_path, tug, steps, 1)
    keep_result(tmp_path, parse_result(sheet(steps[1], fuel_before_oxidizer_ms=-1), "s", steps), tug, steps[1])
    assert statuses(tmp_path, tug)[:3] == ["passed", "failed", "waits"]


def test_a_step_may_be_declared_not_done_with_its_reason(tug, tmp_path):
    steps = programme(tug)
    text = f'step = "{steps[0].key}"\ndate = 2026-05-01\nby = "A. Builder"\nnot_done = "no board yet"\n'
    keep_result(tmp_path, parse_result(text, "s", steps), tug, steps[0])
    assert statuses(tmp_path, tug)[:2] == ["not done", "open"]


def test_changing_the_installation_re_opens_what_it_touches_and_nothing_else(tug, changed, tmp_path):
    steps = programme(tug)
    keep(tmp_path, tug, steps, len(steps))
    assert set(statuses(tmp_path, tug)) == {"passed"}
    after = dict(zip([step.key for step in steps], statuses(tmp_path, changed), strict=True))
    assert after["dry_run"] == "re-opened" and after["static_1"] == "re-opened"
    assert after["leak"] == "passed" and after["coils"] == "passed"


def test_an_earlier_result_is_kept_beside_the_new_one(tug, tmp_path):
    steps = programme(tug)
    keep(tmp_path, tug, steps, 1)
    keep(tmp_path, tug, steps, 1)
    assert (tmp_path / "acceptance.1.toml").exists()


def test_every_problem_of_a_sheet_is_listed_at_once(tug):
    steps = programme(tug)
    text = 'step = "leak"\ndate = "soon"\nby = ""\ncolour = 1\n[values]\ndrop_bar = "x"\nspeed = 3\n'
    with pytest.raises(ValueError) as caught:
        parse_result(text, "sheet.toml", steps)
    message = str(caught.value)
    for part in ("colour", "date", "by =", "values.drop_bar", "values.speed", "values.bubbles is missing"):
        assert part in message
    assert all(line.startswith("sheet.toml: ") for line in message.splitlines())


def test_the_memo_takes_the_highest_clean_step_less_the_derating(tug, tmp_path):
    steps = programme(tug)
    upto = next(i for i, step in enumerate(steps) if step.key == "static_3") + 1
    keep(tmp_path, tug, steps, upto)
    found = standings(tug, steps, read_results(tmp_path, steps))
    memo = limit_memo(tug, found, 0.15)
    assert memo.pattern == (3,) and memo.limit_w == pytest.approx(0.85 * 55_000)
    assert memo.within == [(1,), (2,)] and "[[tested.patterns]]" in memo.lines
    assert "DRAFT" in memo.text(tug) and "Boost lost" in memo.text(tug)
    with pytest.raises(MemoError, match="derating"):
        limit_memo(tug, found, 0.05)


def test_no_memo_without_a_clean_run(tug):
    with pytest.raises(MemoError, match="no static run"):
        limit_memo(tug, standings(tug, programme(tug), {}), 0.15)


def test_the_command_prints_keeps_and_refuses(tug, tmp_path):
    runner = CliRunner()
    results = ["--results", str(tmp_path / "kept")]
    shown = runner.invoke(command, ["programme", *results, "--out", str(tmp_path), "--json"])
    assert shown.exit_code == 0
    assert json.loads(shown.output)["result"]["steps"][0]["status"] == "open"
    steps = programme(tug)
    late = tmp_path / "late.toml"
    late.write_text(sheet(steps[3]))
    refused = runner.invoke(command, ["enter", str(late), *results])
    assert refused.exit_code == 2 and "not open yet" in refused.output
    first = tmp_path / "first.toml"
    first.write_text(sheet(steps[0]))
    assert runner.invoke(command, ["enter", str(first), *results]).exit_code == 0
    assert runner.invoke(command, ["memo", *results, "--derating", "15"]).exit_code == 2
