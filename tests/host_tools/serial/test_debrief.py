"""The debrief tells a flight from the journal the firmware itself keeps: same moves, same reasons, same numbers."""

from itertools import pairwise

import pytest

from oxlatch import vocabulary as v
from oxlatch.journal import RECORD_BYTES, Journal
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.reason_names import reasons_by_name
from oxlatch_sim.reason_words import REASONS
from oxlatch_sim.recording import parse_recording
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.commands.pull import nominal_flows
from oxlatch_tools.serial.debrief import Debrief, debrief, trend
from oxlatch_tools.serial.journal_rows import recording_of, rows_of


def flown(name, aircraft):
    """The journal rows of a scenario, and what the simulator saw of it."""
    journal = Journal()
    ticks = []

    def on_tick(bench):
        if not bench.ran:
            return
        out = bench.controller.out
        ticks.append((out.ox, out.fuel, bench.controller.core.state))
        journal.watch(len(ticks) - 1, bench.controller, bench.raw)

    played = play(load(find(name)), aircraft.plant, aircraft.settings, on_tick=on_tick)
    image = journal.image()
    return rows_of(image[at : at + RECORD_BYTES] for at in range(0, len(image), RECORD_BYTES)), ticks, played


@pytest.fixture(scope="module")
def sortie(request):
    from oxlatch_tools.aircraft import load_aircraft

    aircraft = load_aircraft(None)
    return (*flown("full-sortie-two-stages", aircraft), aircraft)


def tell(rows, aircraft) -> Debrief:
    return debrief(rows, aircraft.settings, plant_scales(aircraft.plant), nominal_flows(aircraft))


def test_open_seconds_are_those_the_simulator_counted(sortie):
    rows, ticks, _, aircraft = sortie
    told = tell(rows, aircraft)
    for stage in (1, 2):
        counted = sum(ox >> (stage - 1) & 1 for ox, _, _ in ticks) * v.TICK_MS / 1000
        assert told.open_s[stage] == pytest.approx(counted, abs=0.001)
    assert set(told.open_s) == {1, 2}


def test_every_opening_and_shutting_is_told_with_its_reason(sortie):
    rows, ticks, _, aircraft = sortie
    story = "\n".join(tell(rows, aircraft).story)
    openings = sum(ox & 1 and not before & 1 for (before, *_), (ox, *_) in pairwise(ticks))
    assert story.count("O1 opened: pushed and permitted") == openings == 2
    assert story.count("F1 opened: its oxidizer open, old enough and proved") == openings
    assert "F1, F2 shut: throttle released" in story
    assert "purge valve opened" in story
    assert "LEAD-IN -> RUN" in story


def test_opening_times_lie_between_command_and_proof(sortie):
    rows, _, _, aircraft = sortie
    told = tell(rows, aircraft)
    assert len(told.openings_ms[1]) == 2
    for times in told.openings_ms.values():
        assert all(5 <= time <= 16 * v.TICK_MS for time in times)


def test_mass_is_seconds_times_nominal_flow_and_says_it_is_not_measured(sortie):
    rows, _, _, aircraft = sortie
    told = tell(rows, aircraft)
    flows = nominal_flows(aircraft)
    used = told.open_s[1] * flows[1]
    assert f"{used:.3f} kg at its nominal flow (computed, not measured)" in told.mass[0]
    unknown = debrief(rows, aircraft.settings, {}, None)
    assert "its flow is not known without the installation" in unknown.mass[0]
    assert "mV" in unknown.margins[0]


def test_a_refused_push_is_told_with_what_stood_in_the_way(sortie):
    *_, aircraft = sortie
    rows, _, _ = flown("push-without-purge", aircraft)
    told = tell(rows, aircraft)
    assert told.refusals
    assert all("refused" in line for line in told.refusals)
    assert "PURGE" in told.refusals[0]
    assert told.open_s == {}


def test_a_trip_is_told_with_its_first_cause_and_the_valves_it_shut(sortie):
    *_, aircraft = sortie
    rows, _, played = flown("proof-lost-in-flow", aircraft)
    story = tell(rows, aircraft).story
    word, bit = reasons_by_name()[played.first_cause]
    cause = next(row[2] for row in REASONS if row[:2] == (word, bit))
    assert any(f"-> TRIP, latch 2, first cause {cause}" in line for line in story)
    assert any(line.split("  ")[-1].startswith(("F1", "O1")) and f"shut: {cause}" in line for line in story)


def test_trends_are_told_only_from_enough_openings():
    assert "too few" in trend(1, [50, 55])
    assert "no trend" in trend(1, [50, 50, 50, 50])
    assert "slower by 20 ms" in trend(1, [50, 50, 70, 70])
    assert "faster by 20 ms" in trend(1, [70, 70, 50, 50])


def test_the_journal_as_a_recording_reads_back_whole(sortie):
    rows, ticks, _, aircraft = sortie
    identity = {"installation": aircraft.digest, "firmware": "12345678"}
    read = parse_recording(recording_of(rows, aircraft.settings, identity, plant_scales(aircraft.plant), 3))
    assert read.complete
    assert read.header["source"] == "controller"
    assert read.header["firmware"] == "12345678"
    states = {tick["tick"]: tick["state"] for tick in read.ticks()}
    assert all(states[n] == v.STATE_NAMES[state] for n, (_, _, state) in enumerate(ticks) if n in states)


def test_a_record_of_another_size_is_refused():
    with pytest.raises(ValueError, match="the firmware on the board is another one"):
        rows_of([b"x" * 10])
