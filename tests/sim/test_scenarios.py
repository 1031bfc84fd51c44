"""The bundled scenarios come out as they expect, and a bad file is answered with one clear message."""

from pathlib import Path

import pytest

from oxlatch.settings import Settings
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.scenario import ScenarioError, bundled, find, load, parse, play
from oxlatch_tools.installation import example, load_installation
from oxlatch_tools.installation_plant import plant_parameters
from oxlatch_tools.installation_settings import settings_of

WANTED = {
    "full-sortie-two-stages",
    "push-without-purge",
    "bottle-changed-not-purged",
    "purge-too-short",
    "pressure-falls-through-the-cut-then-recovers",
    "release-and-quick-repush",
    "throttle-chopped-in-flow",
    "switches-on-at-power-up",
    "power-glitch-in-flow",
    "bus-sags-under-the-third-stage",
    "oxidizer-valve-does-not-open",
    "proof-lost-in-flow",
    "stuck-detent-contact",
    "selection-above-the-tested-set",
    "selector-turned-off-in-flow",
    "selector-turned-on-in-flow",
    "engine-quits-in-flow",
    "pressure-sensor-open-in-flow",
    "pressure-sensor-shorted-in-flow",
    "pressure-sensor-frozen-in-flow",
}


@pytest.fixture(scope="module")
def tug() -> tuple[PlantParameters, Settings]:
    installation = load_installation(example("alpine_tug"))
    return plant_parameters(installation), settings_of(installation)


@pytest.mark.parametrize("path", bundled(), ids=lambda path: path.stem)
def test_comes_out_as_expected_with_every_invariant_kept(path: Path, tug: tuple[PlantParameters, Settings]) -> None:
    outcome = play(load(path), *tug)
    assert outcome.problems == []
    assert [finding for finding in outcome.flight.watch.findings() if not finding.held] == []


def test_every_situation_asked_for_has_its_scenario() -> None:
    assert {path.stem for path in bundled()} >= WANTED


def test_a_recording_of_the_whole_flight_is_complete(tug: tuple[PlantParameters, Settings]) -> None:
    outcome = play(load(find("throttle-chopped-in-flow")), *tug)
    recording = parse_recording(outcome.recorder.end())
    assert recording.complete
    assert recording.ticks_total == outcome.flight.n


def test_the_same_scenario_gives_the_same_bytes_and_another_seed_others(tug: tuple[PlantParameters, Settings]) -> None:
    scenario = load(find("push-without-purge"))
    first, again = (play(scenario, *tug).recorder.end() for _ in range(2))
    assert first == again
    assert first != play(scenario, *tug, seed=99).recorder.end()


def test_an_outcome_that_differs_is_told_point_by_point(tug: tuple[PlantParameters, Settings]) -> None:
    text = find("push-without-purge").read_text().replace('final_state = "WAITING"', 'final_state = "RUN"')
    text = text.replace('reasons = ["PURGE_NEEDED"', 'runs = 1\nfirst_cause = "BUS_SAGS"\nreasons = ["TIME_IS_UP"')
    problems = play(parse(text, "x.toml", "x"), *tug).problems
    assert any("ends in WAITING, expected RUN" in problem for problem in problems)
    assert any("TIME_IS_UP never stood" in problem for problem in problems)
    assert any("0 runs, expected 1" in problem for problem in problems)
    assert any("first cause None, expected BUS_SAGS" in problem for problem in problems)


GOOD = """title = "x"
stages = 2
duration = "4 s"

[start]
begin = "ready"

[[event]]
at = "1 s"
detent = "push"

[[event]]
at = "2 s"
select = [1]

[expect]
final_state = "RUN"
"""

WRONG = [
    ("duration", "durations", "line 3, durations: found key 'durations'; allowed: one of title, stages, duration"),
    ('at = "1 s"', 'at = "1 parsec"', "line 9, event[1].at: found '1 parsec'; allowed: 0 to 1800 s"),
    ('at = "1 s"', "at = 1", "line 9, event[1].at: found 1; allowed: text with a unit"),
    ('at = "1 s"', 'at = "nan s"', "line 9, event[1].at: found 'nan s'; allowed: 0 to 1800 s"),
    ('at = "2 s"', 'at = "0.5 s"', "line 13, event[2].at: found 0.5 s; allowed: 1 s or later: events stand in order"),
    ('at = "2 s"', 'at = "5 s"', "line 3, duration: found 4 s; allowed: 5 s or more"),
    ("select = [1]", "select = [3]", "line 14, event[2].select: found stage 3; allowed: 1 to 2"),
    ("select = [1]", 'select = "1"', "line 14, event[2].select"),
    ('detent = "push"', 'detent = "shove"', "line 10, event[1].detent: found 'shove'"),
    ('detent = "push"', 'fault = "ox_jamed"', "line 10, event[1].fault: found ox_jamed; allowed: a fault of the"),
    ('detent = "push"', 'fault = "ox_leaks@3"', "stage 3 does not exist; allowed are 1 to 2"),
    ('detent = "push"', "", "line 9, event[1].at: found no action; allowed: exactly one action per event"),
    ('final_state = "RUN"', 'final_state = "FLY"', "line 17, expect.final_state: found 'FLY'; allowed: WAKE, REST"),
    ('final_state = "RUN"', "", "line 16, expect: found nothing; allowed: the key 'final_state' is needed"),
    ("stages = 2", "stages = 7", "line 2, stages: found 7"),
    ("stages = 2", "stages = ", "is not TOML"),
    ("[expect]", "[settings]\nlead_ticks = 99\n[expect]", "settings.lead_ticks: found 99; allowed: 1 to 15"),
    ("[expect]", "[settings]\nleed = 9\n[expect]", "settings.leed: found leed; allowed: the name of a settings field"),
    ('final_state = "RUN"', 'final_state = "RUN"\nreasons = ["NO_SUCH"]', "expect.reasons[1]: found 'NO_SUCH'"),
]


@pytest.mark.parametrize(("old", "new", "words"), WRONG, ids=[words[:40] for _, _, words in WRONG])
def test_a_wrong_file_is_answered_with_file_line_value_and_what_is_allowed(old: str, new: str, words: str) -> None:
    assert old in GOOD
    with pytest.raises(ScenarioError) as caught:
        parse(GOOD.replace(old, new, 1), "story.toml", "story")
    message = str(caught.value)
    assert message.startswith("story.toml: ")
    assert words in message
    assert "\n" not in message


def test_settings_that_break_a_rule_between_fields_are_refused(tug: tuple[PlantParameters, Settings]) -> None:
    text = GOOD.replace("[expect]", "[settings]\nrpm_cut = 2400\n[expect]")
    with pytest.raises(ScenarioError, match="breaks a rule"):
        play(parse(text, "x.toml", "x"), *tug)


def test_a_scenario_that_is_nowhere_names_the_bundled_ones(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="full-sortie-two-stages"):
        find("no-such-story")
    with pytest.raises(ScenarioError, match="cannot be read"):
        load(tmp_path / "gone.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ScenarioError, match="cannot be read"):
        load(tmp_path / "bytes.toml")


def test_a_beginning_that_cannot_be_reached_is_an_error_and_not_an_endless_wait(
    tug: tuple[PlantParameters, Settings],
) -> None:
    text = GOOD.replace('begin = "ready"', 'begin = "ready"\nbottle_temperature = "-20 degC"')
    with pytest.raises(ScenarioError, match="did not come about within 30 s"):
        play(parse(text.replace('begin = "ready"', 'begin = "flowing"'), "x.toml", "x"), *tug)
