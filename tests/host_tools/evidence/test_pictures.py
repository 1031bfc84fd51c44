"""The traces of a stage are those of the recording, at the moment they were driven."""

import io

import pytest
from PIL import Image

from oxlatch_sim.recording import Recording, parse_recording
from oxlatch_sim.scenario import find, load, play
from oxlatch_tools.aircraft import load_aircraft
from oxlatch_tools.evidence.pictures import Trace, three_traces, traced


def flown(name: str) -> Recording:
    tug = load_aircraft(None)
    return parse_recording(play(load(find(name)), tug.plant, tug.settings).recorder.end())


@pytest.fixture(scope="module")
def recording() -> Recording:
    return flown("throttle-chopped-in-flow")


@pytest.fixture(scope="module")
def trace(recording: Recording) -> Trace:
    return traced(recording, 1)


def first(values) -> int:
    return next(at for at, value in enumerate(values) if value)


def test_a_trace_opens_oxidizer_first_and_closes_fuel_first(trace: Trace) -> None:
    assert trace.opening_s == trace.seconds[first(trace.command["O"])] < trace.seconds[first(trace.command["F"])]
    after = trace.seconds >= trace.closing_s
    assert not trace.command["F"][after].any() and trace.command["O"][after].any()


def test_current_follows_its_command_and_flow_follows_current(trace: Trace) -> None:
    for letter in "OF":
        driven, current = first(trace.command[letter]), first(trace.current[letter])
        assert driven < current and trace.flow[letter][:driven].max() == 0
    assert 5 < trace.steady("O") / trace.steady("F") < 10


def test_the_picture_is_as_wide_as_a_page_at_print(trace: Trace) -> None:
    image = Image.open(io.BytesIO(three_traces(trace)))
    assert image.width == 1420 and image.height < 1.3 * image.width


def test_a_stage_that_never_delivers_is_refused() -> None:
    with pytest.raises(ValueError, match="stage 1 does not deliver"):
        traced(flown("push-without-purge"), 1)
