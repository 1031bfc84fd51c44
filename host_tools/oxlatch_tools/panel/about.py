"""What a page is told once: the aircraft, the table of reasons, the states, the catalogue of faults."""

from collections.abc import Mapping
from typing import Any

from oxlatch.vocabulary import STAGES_MAX, STATE_NAMES, TICK_MS
from oxlatch_sim.altitude_row import patterns_somewhere
from oxlatch_sim.bench import Bench
from oxlatch_sim.fault_kinds import STAGE
from oxlatch_sim.faults import CATALOGUE
from oxlatch_sim.identity import firmware_digest
from oxlatch_sim.inputs import INPUT_BITS
from oxlatch_tools.aircraft import Aircraft
from oxlatch_tools.installation_fitted import not_fitted
from oxlatch_tools.panel.deeds import AIRSPEED_M_S, ALTITUDE_M, BOTTLE_C, CONTACTS, Limits, is_once
from oxlatch_tools.panel.shown import REASON_ROWS
from oxlatch_tools.panel.traces import SPAN_TICKS
from oxlatch_tools.panel.units import shown_units


def about_controller(settings: Any) -> dict[str, Any]:
    """What holds for any controller with these settings. `settings` has one integer attribute per field."""
    return {
        "tick_ms": TICK_MS,
        "span_ticks": SPAN_TICKS,
        "stages": settings.stages,
        "states": STATE_NAMES,
        "reasons": REASON_ROWS,
        "patterns": allowed_patterns(patterns_somewhere(settings), settings.stages),
        "rpm_window": [settings.rpm_min, settings.rpm_max],
        "units": shown_units("metric"),
    }


def about_aircraft(aircraft: Aircraft) -> dict[str, Any]:
    """One installation."""
    return {
        **about_controller(aircraft.settings),
        "title": aircraft.name,
        "units": shown_units(aircraft.installation.aircraft.units),
        "installation": aircraft.digest,
        "firmware": firmware_digest(),
        "not_fitted": [[item.part, item.lost] for item in not_fitted(aircraft.installation)],
    }


def about_recording(name: str, header: Mapping[str, Any], settings: Any) -> dict[str, Any]:
    """A recording and the controller it came from."""
    return {
        **about_controller(settings),
        "title": name,
        "source": header.get("source", "simulator"),
        "installation": header.get("installation", ""),
        "firmware": header.get("firmware", ""),
        "same_firmware": header.get("firmware") == firmware_digest(),
        "not_fitted": None,
    }


def about_bench(bench: Bench, limits: Limits) -> dict[str, Any]:
    """What can be broken and turned on the virtual bench."""
    plant = bench.plant
    return {
        "faults": faults(limits.stages, bench.settings.fitted),
        "limits": {
            "bottle_c": BOTTLE_C,
            "fill_kg": limits.fill_kg,
            "bus_v": limits.bus_v,
            "altitude_m": ALTITUDE_M,
            **({"airspeed_m_s": AIRSPEED_M_S} if "airspeed" in limits.extras else {}),
        },
        "contacts": [[name, *words[1:]] for name, words in CONTACTS.items() if name in limits.extras],
        "master_ox": plant.master_ox is not None,
        "measures_air": "air data" in limits.extras,
        "rated": {
            "ox": [round(1000.0 * stage.parameters.rated_oxidizer_kg_s, 2) for stage in plant.stages],
            "fuel": [round(1000.0 * stage.parameters.rated_fuel_kg_s, 3) for stage in plant.stages],
        },
    }


def faults(stages: int, fitted: int) -> list[dict[str, Any]]:
    """The catalogue, in its order: name, words, hazard row, how many stages it can strike, whether it just happens.

    A fault of an input that this aircraft does not have is left out.
    """
    return [
        {
            "name": fault.name,
            "words": fault.words,
            "row": fault.row,
            "stages": stages if fault.part == STAGE else 0,
            "once": is_once(fault.name, stages),
        }
        for fault in CATALOGUE.values()
        if not fault.needs or fitted & INPUT_BITS[fault.needs]
    ]


def allowed_patterns(patterns: int, stages: int) -> list[list[int]]:
    """Stages of each pattern that the settings allow."""
    return [
        [stage for stage in range(1, STAGES_MAX + 1) if pattern >> stage - 1 & 1]
        for pattern in range(1, 1 << stages)
        if patterns >> pattern & 1
    ]
