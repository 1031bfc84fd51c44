"""The catalogue of single faults: every way a part can fail that has an input to disturb, with its hazard row."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from oxlatch.vocabulary import (
    BOOT_CRC_BAD,
    COIL_FUEL_SHIFT,
    COIL_PURGE,
    SW_ACK,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_MASTER,
    SW_PURGE,
    SW_SEL_SHIFT,
)
from oxlatch_sim.fault_extras import extra_faults
from oxlatch_sim.fault_kinds import PLANT, STAGE, Action, Change, Contact, Effect, Fault, Pickup, contact_failures
from oxlatch_sim.plant import engine, sensors
from oxlatch_sim.plant.bottle import VAPOUR
from oxlatch_sim.plant.valve import JAMMED_OPEN, JAMMED_SHUT

if TYPE_CHECKING:
    from oxlatch_sim.bench import Bench


def _sensor(prefix: str, path: str, what: str, row: int) -> Iterator[Fault]:
    """The six ways an analogue sensor fails."""
    kinds = (
        ("open", sensors.OPEN, "lead open"),
        ("shorted", sensors.SHORTED, "shorted to its supply"),
        ("frozen", sensors.FROZEN, "stuck at its last value"),
        ("drifts_up", sensors.DRIFTING, "drifts upwards"),
        ("drifts_down", sensors.DRIFTING, "drifts downwards"),
        ("noisy", sensors.NOISY, "full of noise"),
        ("late", sensors.LATE, "200 ms late"),
    )
    for name, kind, words in kinds:
        effects: tuple[Effect, ...] = (Change(f"{path}.fault", kind),)
        if kind == sensors.DRIFTING:
            effects += (Change(f"{path}.drift_mv_s", 60.0 if name == "drifts_up" else -60.0),)
        yield Fault(f"{prefix}_{name}", row, f"{what} {words}", effects)


def _contact(prefix: str, bit: int, what: str, row: int, part: str = PLANT) -> Iterator[Fault]:
    """The four ways a contact fails."""
    for name, kind, words in contact_failures("300 ms"):
        yield Fault(f"{prefix}_{name}", row, f"{what} {words}", (Contact(bit, kind),), part)


def _proofs() -> Iterator[Fault]:
    for name, kind, words in contact_failures("120 ms"):
        path = "plant.stages.{n}.proof_fault"
        yield Fault(f"proof_{name}", 2, f"proof switch {words}", (Change(path, kind),), STAGE)


def _pickups() -> Iterator[Fault]:
    kinds = (
        ("silent", engine.PICKUP_SILENT, 9, "gives no pulses"),
        ("false", engine.PICKUP_FALSE, 46, "shows 2500 rpm whatever the engine does"),
        ("frozen", engine.PICKUP_FROZEN, 46, "stuck at its last value"),
        ("drifts_down", engine.PICKUP_DRIFTING, 46, "reads ever lower"),
        ("noisy", engine.PICKUP_NOISY, 46, "counts false pulses"),
        ("late", engine.PICKUP_LATE, 46, "200 ms late"),
    )
    for name, kind, row, words in kinds:
        yield Fault(f"rpm_{name}", row, f"engine speed pick-up {words}", (Pickup(kind),))


def _valve(prefix: str, path: str, what: str, rows: dict[str, int], part: str = STAGE) -> Iterator[Fault]:
    """Mechanical and electrical faults of one solenoid valve."""

    def fault(name: str, words: str, *effects: Effect) -> Fault:
        return Fault(f"{prefix}_{name}", rows[name], f"{what} {words}", effects, part)

    yield fault("jammed_shut", "valve jammed shut", Change(f"{path}.jam", JAMMED_SHUT))
    yield fault("jammed_open", "valve stays open once opened", Change(f"{path}.jam", JAMMED_OPEN))
    yield fault("stuck_open", "valve stuck fully open, commanded or not", Change(f"{path}.leak", 1.0))
    yield fault("leaks", "valve leaks 10 % of its open area", Change(f"{path}.leak", 0.1))
    yield fault("slow_to_open", "valve takes 60 ms longer to open", Change(f"{path}.open_stroke_s", 0.070))
    yield fault("slow_to_close", "valve takes 150 ms to close", Change(f"{path}.close_stroke_s", 0.150))
    yield fault("coil_open", "coil or its lead open", Change(f"{path}.coil_open", True))
    yield fault("coil_shorted", "coil has shorted turns", Change(f"{path}.shorted_turns", True))
    yield fault("driver_open", "driver does not switch on", Change(f"{path}.driver_open", True))
    yield fault("driver_shorted", "driver stays on", Change(f"{path}.driver_shorted", True))
    yield fault("wire_chafed", "lead chafed to the bus: coil energised", Change(f"{path}.stray_v", 13.5))


def _rows(**overrides: int) -> dict[str, int]:
    rows = {
        "jammed_shut": 1,
        "jammed_open": 11,
        "stuck_open": 11,
        "leaks": 11,
        "slow_to_open": 1,
        "slow_to_close": 12,
        "coil_open": 47,
        "coil_shorted": 47,
        "driver_open": 2,
        "driver_shorted": 48,
        "wire_chafed": 48,
    }
    return {**rows, **overrides}


_FUEL_ROWS = _rows(
    jammed_shut=6,
    jammed_open=4,
    stuck_open=4,
    leaks=4,
    slow_to_open=6,
    slow_to_close=3,
    driver_open=6,
    driver_shorted=5,
)
_PURGE_ROWS = _rows(jammed_shut=63, jammed_open=36, stuck_open=36, leaks=36, slow_to_open=36, slow_to_close=36)


def _change_bottle(bench: "Bench", _stage: int) -> None:
    bottle = bench.plant.parameters.bottle
    bench.plant.replace_bottle(bottle.fill_kg, bottle.temperature_k)
    bench.plant.line.open_hand_valve()


def _shut_hand_valve(bench: "Bench", _stage: int) -> None:
    bench.plant.line.shut_hand_valve()


def _empty_bottle(bench: "Bench", _stage: int) -> None:
    """Only vapour is left: what a bottle holds when its liquid has run out."""
    bottle = bench.plant.bottle
    tables = bench.plant.line.flux.tables
    density = tables.saturation.vapour_density_kg_m3(bottle.temperature_k)
    bottle.refill(0.98 * density * bottle.parameters.volume_m3, bottle.temperature_k)
    bottle.phase = 1


def _overheat_bottle(bench: "Bench", _stage: int) -> None:
    bottle = bench.plant.bottle
    bottle.refill(bottle.vessel.mass_kg, 308.15)


def _chill_bottle(bench: "Bench", _stage: int) -> None:
    bottle = bench.plant.bottle
    bottle.refill(bottle.vessel.mass_kg, 277.15)


def _overfill_bottle(bench: "Bench", _stage: int) -> None:
    bottle = bench.plant.bottle
    bottle.refill(0.80 * 1000.0 * bottle.parameters.volume_m3, bottle.temperature_k)


def _soak_line(bench: "Bench", _stage: int) -> None:
    bench.plant.line.fill_with(VAPOUR, bench.plant.bottle)


def _stop_engine(bench: "Bench", _stage: int) -> None:
    bench.plant.engine.running = False


def _chop(bench: "Bench", _stage: int) -> None:
    bench.set_throttle(0.0)


def _glitch(bench: "Bench", _stage: int) -> None:
    bench.plant.electrical.bus_v = 0.0


def _stall(bench: "Bench", _stage: int) -> None:
    bench.stall_left = 4


def _hang(bench: "Bench", _stage: int) -> None:
    bench.hung = True


def _crank(bench: "Bench", _stage: int) -> None:
    bench.plant.engine.running = False
    bench.plant.engine.rpm = 300.0


def _trap_liquid(bench: "Bench", _stage: int) -> None:
    line = bench.plant.line
    line.shut_hand_valve()
    line.surround_k = 330.0
    line.heat_w_k = 5.0


def _press_purge(bench: "Bench", _stage: int) -> None:
    bench.set_switch("purge", True)


def _spoil_settings(bench: "Bench", _stage: int) -> None:
    bench.board.boot |= BOOT_CRC_BAD


def _hot_coil(bench: "Bench", stage: int) -> None:
    bench.plant.stages[stage].oxidizer_valve.set_coil_temperature(393.15)


_OX = "plant.stages.{n}.oxidizer_valve"
_FU = "plant.stages.{n}.fuel_valve"


def _supplies() -> Iterator[Fault]:
    """Bottle, line, fuel supply."""
    yield Fault("hand_valve_shut", 2, "bottle hand valve shut", (Action("shut", _shut_hand_valve),))
    yield Fault("bottle_liquid_gone", 22, "bottle has only vapour left", (Action("empty", _empty_bottle),))
    yield Fault("hose_burst", 2, "feed hose burst at the block", (Change("plant.line.burst_m2", 2.0e-5),))
    yield Fault("line_blocked", 2, "feed line nearly blocked", (Change("plant.line.restriction", 130.0),))
    yield Fault("bottle_hot", 18, "bottle at 35 C", (Action("hot", _overheat_bottle),))
    yield Fault("bottle_cold", 21, "bottle at 4 C", (Action("cold", _chill_bottle),))
    yield Fault("relief_opens", 19, "bottle relief blows off 0.5 kg/s", (Change("plant.bottle.leak_kg_s", 0.5),))
    yield Fault("tube_uncovered", 22, "attitude uncovers the tube", (Change("plant.bottle.tube_share", 1.1),))
    yield Fault("bottle_inert", 23, "bottle holds a gas that does not burn", (Change("plant.line.inert", True),))
    foreign = (Change("plant.line.inert", True), Change("plant.bottle.foreign_share", 0.78))
    yield Fault("bottle_foreign_gas", 23, "bottle holds another gas, 22 % under the pressure that fits", foreign)
    yield Fault("bottle_overfilled", 24, "bottle overfilled", (Action("overfilled", _overfill_bottle),))
    yield Fault("bottle_changed", 33, "bottle changed, line full of air", (Action("changed", _change_bottle),))
    yield Fault("line_soaked", 34, "line full of vapour after a hot soak", (Action("soaked", _soak_line),))
    yield Fault("cabin_leak", 38, "line leaks slowly", (Change("plant.line.burst_m2", 4.0e-8),))
    yield Fault("fuel_pump_stops", 7, "fuel pump stops", (Change("plant.fuel.pump_on", False),))
    yield Fault("fuel_filter_blocked", 8, "fuel filter nearly blocked", (Change("plant.fuel.droop_share", 12.0),))
    yield Fault(
        "fuel_regulator_high", 26, "fuel regulator gives 30 % too much", (Change("plant.fuel.surge_pa", 1.0e5),)
    )
    yield Fault(
        "fuel_regulator_low", 25, "fuel regulator gives 20 % too little", (Change("plant.fuel.surge_pa", -6.5e4),)
    )
    yield Fault("fuel_block_leaks", 4, "fuel block leaks outwards", (Change("plant.fuel.block_leak_kg_s", 2.0e-5),))
    yield Fault(
        "fuel_branch_plugged",
        51,
        "half the fuel nozzles plugged",
        (Change("plant.stages.{n}.fuel_branch.jet_share", 0.5),),
        STAGE,
    )
    yield Fault(
        "ox_branch_plugged",
        51,
        "half the oxidizer nozzles plugged",
        (Change("plant.stages.{n}.oxidizer_branch.jet_share", 0.5),),
        STAGE,
    )


def _power() -> Iterator[Fault]:
    """Bus, run switch, controller."""
    yield Fault(
        "alternator_off", 27, "alternator off, on battery alone", (Change("plant.electrical.alternator_on", False),)
    )
    yield Fault(
        "battery_weak",
        27,
        "alternator off and battery weak",
        (Change("plant.electrical.alternator_on", False), Change("plant.electrical.battery_ohm", 0.043)),
    )
    yield Fault("bus_sags", 27, "bus sags by 3.5 V", (Change("plant.electrical.sag_v", 3.5),))
    yield Fault("bus_collapses", 27, "bus sags by 6 V", (Change("plant.electrical.sag_v", 6.0),))
    yield Fault("bus_surges", 28, "bus surges to 18 V", (Change("plant.electrical.set_v", 18.0),))
    yield Fault("power_glitch", 29, "supply gone for some milliseconds", (Action("glitch", _glitch),))
    yield Fault("power_lost", 29, "supply gone", (Change("plant.electrical.supply_cut", True),))
    yield Fault("run_switch_welded", 13, "run switch welded", (Change("plant.electrical.welded", True),))
    yield Fault("run_switch_open", 13, "run switch does not close", (Change("plant.electrical.run_open", True),))
    yield Fault("fuel_rail_open", 6, "fuel rail fuse blown", (Change("plant.electrical.fuel_wire_open", True),))
    yield Fault("code_hangs", 30, "code hangs", (Action("hang", _hang),))
    yield Fault("code_stalls", 30, "code stalls for 20 ms", (Action("stall", _stall),))
    yield Fault("ticks_late", 31, "every third tick is missed", (Change("skip_every", 3),))
    yield Fault("bus_sense_low", 27, "bus reading 30 % low", (Change("plant.electrical.sense_share", 0.7),))
    yield Fault("bus_sense_high", 28, "bus reading 30 % high", (Change("plant.electrical.sense_share", 1.3),))
    yield Fault("rail_sense_dead", 13, "rail reading dead", (Change("plant.electrical.rail_sense_share", 0.0),))
    yield Fault("lockout_store_unreadable", 67, "lockout memory unreadable", (Change("board.lockout", -1),))


def _pilot() -> Iterator[Fault]:
    """Engine, throttle and what the pilot does."""
    yield Fault("engine_quits", 9, "engine quits", (Action("quits", _stop_engine),))
    yield Fault("magnetos_off", 61, "magnetos off", (Change("plant.engine.sparks", False),))
    yield Fault(
        "governor_stuck", 53, "governor stuck: speed rises with power", (Change("plant.engine.governor_stuck", True),)
    )
    yield Fault("propeller_unloads", 53, "propeller unloads", (Change("plant.engine.load_share", 0.6),))
    yield Fault("throttle_chopped", 16, "throttle chopped", (Action("chop", _chop),))
    yield Fault(
        "ox_coils_crossed", 43, "oxidizer coils 1 and 2 crossed", (Change("plant.oxidizer_coils_crossed", True),)
    )
    yield Fault("ox_coil_hot", 58, "oxidizer coil at 120 C", (Action("hot", _hot_coil),), STAGE)


def _people_and_surroundings() -> Iterator[Fault]:
    """What people and the world around do to the inputs."""
    yield Fault("engine_cranking", 10, "engine stops and is cranked", (Action("crank", _crank),))
    yield Fault("line_trapped_hot", 20, "hand valve shut, full line in the sun", (Action("trapped", _trap_liquid),))
    yield Fault("purge_pressed", 35, "purge pressed", (Action("purge", _press_purge),))
    yield Fault("settings_spoiled", 41, "settings record found corrupt", (Action("spoiled", _spoil_settings),))
    yield Fault("service_asked", 42, "host tool asks for SERVICE", (Change("board.service", 1),))
    upset = [Change(f"plant.{name}_sensor.fault", sensors.NOISY) for name in ("supply", "fuel", "block", "throttle")]
    chatter = [Contact(bit, sensors.CHATTERING) for bit in (SW_DETENT_NO, SW_DETENT_NC)]
    effects: tuple[Change | Contact | Pickup | Action, ...] = (*upset, *chatter, Pickup(engine.PICKUP_NOISY))
    yield Fault("radio_upset", 49, "a transmitter upsets every signal lead", effects)


def _clamps_and_senses() -> Iterator[Fault]:
    yield Fault(
        "fuel_clamp_failed", 3, "fuel coil clamp shorted to a plain diode", (Change(f"{_FU}.clamp_v", 0.8),), STAGE
    )
    yield Fault(
        "ox_clamp_failed", 3, "oxidizer coil clamp open: fast release", (Change(f"{_OX}.clamp_v", 60.0),), STAGE
    )
    yield Fault(
        "ox_over_differential",
        1,
        "oxidizer valve cannot lift at this pressure",
        (Change(f"{_OX}.pull_in_share", 2.0),),
        STAGE,
    )
    yield Fault("wired_and_stuck", 1, "wired interlock bridged", (Change("plant.stages.{n}.wired_and", False),), STAGE)
    yield Fault("ox_sense_stuck_on", 2, "oxidizer current sense stuck on", (Change("board.currents_stuck_on", 1),))
    yield Fault("ox_sense_stuck_off", 2, "oxidizer current sense stuck off", (Change("board.currents_stuck_off", 1),))
    yield Fault(
        "fuel_sense_stuck_on",
        6,
        "fuel current sense stuck on",
        (Change("board.currents_stuck_on", 1 << COIL_FUEL_SHIFT),),
    )
    yield Fault(
        "fuel_sense_stuck_off",
        6,
        "fuel current sense stuck off",
        (Change("board.currents_stuck_off", 1 << COIL_FUEL_SHIFT),),
    )
    yield Fault(
        "purge_sense_stuck_off", 36, "purge current sense stuck off", (Change("board.currents_stuck_off", COIL_PURGE),)
    )


def _catalogue() -> dict[str, Fault]:
    faults = [
        *_valve("ox", _OX, "oxidizer", _rows()),
        *_valve("fuel", _FU, "fuel", _FUEL_ROWS),
        *_valve("master_fuel", "plant.fuel.master", "master fuel", _FUEL_ROWS, PLANT),
        *_valve("purge", "plant.purge", "purge", _PURGE_ROWS, PLANT),
        *_clamps_and_senses(),
        *_supplies(),
        *_power(),
        *_pilot(),
        *_people_and_surroundings(),
        *_proofs(),
        *_pickups(),
        *_sensor("supply", "plant.supply_sensor", "bottle pressure sensor", 45),
        *_sensor("fuel_pressure", "plant.fuel_sensor", "fuel pressure sensor", 45),
        *_sensor("block_pressure", "plant.block_sensor", "fuel block pressure sensor", 45),
        *_sensor("throttle_position", "plant.throttle_sensor", "throttle sensor", 17),
        *_contact("detent_no", SW_DETENT_NO, "detent contact, open pole,", 14),
        *_contact("detent_nc", SW_DETENT_NC, "detent contact, closed pole,", 15),
        *_contact("master", SW_MASTER, "master switch input", 50),
        *_contact("purge_button", SW_PURGE, "purge button", 36),
        *_contact("ack", SW_ACK, "acknowledge button", 33),
        *_contact("selector", 1 << SW_SEL_SHIFT, "selector", 56, STAGE),
        *extra_faults(),
    ]
    return {fault.name: fault for fault in faults}


CATALOGUE = _catalogue()
