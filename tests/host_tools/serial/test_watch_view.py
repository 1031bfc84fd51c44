"""The live view shows state, text, every reason, readings, valves and what is not fitted."""

import io
from struct import pack

from rich.console import Console

from oxlatch import protocol
from oxlatch import vocabulary as v
from oxlatch.reasons import MASTER_IS_OFF, PURGE_NEEDED
from oxlatch_sim.observation import Scale
from oxlatch_sim.reason_words import REASONS
from oxlatch_tools.serial.client import telemetry_of
from oxlatch_tools.serial.watch_view import Seen, draw


def telemetry(**changes):
    raw = [1, v.SW_MASTER | 1 << v.SW_SEL_SHIFT, 0, 0, 4500, 2600, 9, 2500, 1000, 900, 13800, 13500, 0, 0]
    raw += [v.EX_MIXTURE_RICH, 2932, 10133, 0, 1850, 2932, 900, 0]
    why_and_cause = (0, 0, MASTER_IS_OFF | PURGE_NEEDED, 0, 0, 0)
    row = next(i for i, reason in enumerate(REASONS) if reason[1] == PURGE_NEEDED and reason[0] == 2)
    head = {"tick": 1234, "state": v.WAITING, "reaction": 1, "latch": 0, "ox": 1, "fuel": 2, "bits": v.OUT_RUN}
    head.update({key: value for key, value in changes.items() if key in head or key == "strap"})
    return telemetry_of(
        pack(
            protocol.TELEMETRY_FORMAT,
            *(head[key] for key in ("tick", "state", "reaction", "latch", "ox", "fuel", "bits")),
            1,
            changes.get("strap", 0),
            row,
            0,
            *why_and_cause,
            2000,
            4000,
            300,
            2500 << 10,
            2100,
            3300,
            7,
            1,
            5,
            6,
            *raw,
        )
    )


def shown(seen, width=120):
    console = Console(file=io.StringIO(), width=width, color_system=None)
    console.print(draw(seen))
    return console.file.getvalue()


def test_everything_the_pilot_and_the_builder_need_is_on_the_screen():
    scales = {"supply_bar": Scale(500.0, 4500.0, 100.0)}
    page = shown(Seen("port", {"board": "rp2", "not_fitted": "PROOF"}, scales, telemetry(), "live"))
    for text in (
        "WAITING   PURGE",
        "MASTER OFF",
        "NOT FITTED: PROOF",
        "50.00 bar",
        "1000 mV",
        "13.8 V",
        "2600 rpm",
        "O1 OPEN",
        "F2 OPEN",
        "F1 shut",
        "run ON",
        "master, select 1",
        "2.10 ms, longest 3.30 ms, late 7",
        "dropped 5, broken 6",
        "10 s",
        "20 s",
        "1.5 s",
    ):
        assert text in page, text
    assert "STRAP" not in page


def test_inputs_beyond_the_core_are_shown_where_they_are_fitted():
    page = shown(Seen("port", {"board": "rp2", "not_fitted": "OUTLET_2,AIRSPEED"}, {}, telemetry()))
    for text in ("20 °C", "1013 hPa, no signal", "-88 °C", "2500 g", "mixture rich", "master oxidizer off"):
        assert text in page, text
    assert "outlet 2" not in page
    assert "airspeed" not in page
    every = "BOTTLE_TEMPERATURE,AIR,OUTLET_1,OUTLET_2,AIRSPEED,BUDGET,KNOCK,MIXTURE,RETARD,FIRE"
    bare = shown(Seen("port", {"board": "rp2", "not_fitted": every}, {}, telemetry()))
    assert "outside air" not in bare
    assert "contacts" not in bare


def test_the_inject_strap_is_shown_as_long_as_it_counts():
    assert "BENCH: INJECT STRAP FITTED" in shown(Seen("port", {"board": "x"}, {}, telemetry(strap=1)))


def test_before_the_first_frame_the_view_says_what_it_is_waiting_for():
    assert "looking for a controller" in shown(Seen("port"))


def test_the_view_fits_eighty_columns():
    page = shown(Seen("port", {"board": "x"}, {}, telemetry()), width=80)
    assert max(map(len, page.split("\n"))) <= 80
