"""Rails, throttle, engine and sensors as the controller meets them."""

from random import Random

import pytest

from oxlatch_sim.plant import sensors
from oxlatch_sim.plant.electrical import Electrical
from oxlatch_sim.plant.engine import PICKUP_FALSE, PICKUP_SILENT, Engine
from oxlatch_sim.plant.parameters import ElectricalParameters, EngineParameters, SensorParameters, ThrottleParameters
from oxlatch_sim.plant.sensors import AnalogSensor, Contacts, Noise
from oxlatch_sim.plant.throttle import Throttle

STEP = 1e-3


def live() -> Electrical:
    electrical = Electrical(ElectricalParameters())
    electrical.master = True
    electrical.contact = True
    electrical.kick()
    electrical.tick(0.005)
    electrical.step(STEP)
    return electrical


def dead_after_ms(electrical: Electrical, rail: str, kick: bool) -> int:
    for count in range(1, 300):
        if kick:
            electrical.kick()
        electrical.step(STEP)
        if getattr(electrical, rail) == 0.0:
            return count
    return 300


@pytest.mark.parametrize("rail", ["oxidizer_v", "fuel_v", "purge_v"])
def test_every_rail_dies_30_ms_after_the_last_kick(rail: str) -> None:
    assert dead_after_ms(live(), rail, kick=False) == pytest.approx(29, abs=1)


def test_releasing_the_throttle_kills_fuel_at_once_and_oxidizer_100_ms_later() -> None:
    electrical = live()
    electrical.contact = False
    assert dead_after_ms(electrical, "fuel_v", kick=True) == pytest.approx(5, abs=1)
    electrical = live()
    electrical.contact = False
    assert dead_after_ms(electrical, "oxidizer_v", kick=True) == pytest.approx(100, abs=1)
    assert electrical.purge_v > 0.0


def test_master_off_kills_every_rail_at_once() -> None:
    electrical = live()
    electrical.master = False
    electrical.step(STEP)
    assert electrical.oxidizer_v == electrical.fuel_v == electrical.purge_v == 0.0


def test_a_welded_run_switch_still_obeys_the_master_pole() -> None:
    electrical = live()
    electrical.welded = True
    for _ in range(100):
        electrical.step(STEP)
    assert electrical.rail_v > 10.0
    electrical.master = False
    for _ in range(10):
        electrical.step(STEP)
        electrical.tick(0.005)
    assert electrical.rail_v < 1.0


def test_the_rail_reads_under_one_volt_within_50_ms_of_the_last_kick() -> None:
    electrical = live()
    for _ in range(10):
        for _ in range(5):
            electrical.step(STEP)
        electrical.tick(0.005)
    assert electrical.rail_v < 1.0


def test_load_and_a_lost_alternator_pull_the_bus_down() -> None:
    electrical = live()
    electrical.load_a = 40.0
    for _ in range(50):
        electrical.tick(0.005)
    loaded = electrical.bus_v
    electrical.alternator_on = False
    for _ in range(50):
        electrical.tick(0.005)
    assert electrical.bus_v < loaded - 1.0


def test_the_detent_poles_change_over_beyond_full_travel() -> None:
    throttle = Throttle(ThrottleParameters())
    throttle.place(100.0)
    assert throttle.nc_made and not throttle.no_made
    throttle.move(103.0)
    seen = []
    for _ in range(10):
        throttle.step(STEP)
        seen.append((throttle.no_made, throttle.nc_made))
    assert (False, False) in seen and seen[-1] == (True, False)
    assert (True, True) not in seen
    assert throttle.plate_share() == 1.0


def test_a_chop_takes_about_200_ms() -> None:
    throttle = Throttle(ThrottleParameters())
    throttle.place(103.0)
    throttle.move(0.0)
    count = 0
    while throttle.moving:
        throttle.step(STEP)
        count += 1
    assert 150 < count < 250


def engine() -> Engine:
    return Engine(EngineParameters(), Random(1), 0.002)


def test_full_throttle_settles_at_the_governed_speed_and_the_pulses_say_so() -> None:
    motor = engine()
    motor.start(1500.0)
    for _ in range(4000):
        motor.tick(0.005, 1.0)
    assert motor.rpm == pytest.approx(2600.0, abs=15.0)
    assert motor.measured_rpm == pytest.approx(2600.0, abs=40.0)
    assert motor.pulse_age_ms <= 8


def test_an_engine_that_quits_falls_faster_than_its_speed_cut() -> None:
    motor = engine()
    motor.start(2600.0)
    for _ in range(200):
        motor.tick(0.005, 1.0)
    motor.running = False
    for _ in range(60):
        motor.tick(0.005, 1.0)
    assert motor.rpm < 2200.0


def test_a_silent_pick_up_ages_and_a_false_one_lies() -> None:
    motor = engine()
    motor.start(2600.0)
    motor.tick(0.005, 1.0)
    motor.fail_pickup(PICKUP_SILENT)
    for _ in range(40):
        motor.tick(0.005, 1.0)
    assert motor.pulse_age_ms == 200
    motor.fail_pickup(PICKUP_FALSE)
    motor.running = False
    motor.tick(0.005, 1.0)
    assert motor.measured_rpm == 2500 and motor.pulse_age_ms < 10


def sensor() -> AnalogSensor:
    return AnalogSensor(SensorParameters(100.0, 0.0, 2.0), Noise(3), 5)


def test_a_ratiometric_sensor_reads_500_to_4500_mv() -> None:
    """p = FS (V / Vs - 0.1) / 0.8: 10 to 90 % of a 5 V supply, TI SBOU024C."""
    probe = sensor()
    for value, expected in ((0.0, 500), (50.0, 2500), (100.0, 4500)):
        assert sum(probe.read(value) for _ in range(500)) / 500 == pytest.approx(expected, abs=1.0)


def test_a_healthy_sensor_saturates_inside_the_bands_of_a_broken_lead() -> None:
    probe = sensor()
    assert all(390 <= probe.read(-50.0) <= 410 for _ in range(20))
    assert all(4590 <= probe.read(200.0) <= 4610 for _ in range(20))


@pytest.mark.parametrize(
    ("fault", "low", "high"), [(sensors.OPEN, 0, 50), (sensors.SHORTED, 4950, 5000), (sensors.FROZEN, 2480, 2520)]
)
def test_open_shorted_and_frozen_sensors_read_where_they_must(fault: int, low: int, high: int) -> None:
    probe = sensor()
    probe.read(50.0)
    probe.fault = fault
    assert all(low <= probe.read(90.0) <= high for _ in range(100))


def test_drifting_and_late_sensors_leave_the_truth_slowly() -> None:
    probe = sensor()
    probe.fault, probe.drift_mv_s = sensors.DRIFTING, 100.0
    for _ in range(200):
        found = probe.read(50.0)
    assert found == pytest.approx(2600, abs=12)
    late = sensor()
    late.fault = sensors.LATE
    late.read(10.0)
    assert late.read(90.0) < 1000
    for _ in range(60):
        found = late.read(90.0)
    assert found > 4000


def test_contacts_bounce_once_at_an_edge_and_then_stand() -> None:
    contacts = Contacts(Random(2), 1.0)
    assert contacts.sample(1) == 0
    assert [contacts.sample(1) for _ in range(5)] == [1] * 5


def test_failed_contacts_stick_chatter_and_lag() -> None:
    contacts = Contacts(Random(2), 0.0)
    contacts.fail(1, sensors.STUCK_ON)
    assert contacts.sample(0) == 1
    contacts.fail(1, sensors.STUCK_OFF)
    assert contacts.sample(1) == 0
    contacts.fail(1, sensors.CHATTERING)
    assert len({contacts.sample(1) for _ in range(40)}) == 2
    contacts.fail(1, sensors.SLOW)
    assert contacts.sample(0) == 0
    seen = [contacts.sample(1) for _ in range(100)]
    assert seen.index(1) == pytest.approx(60, abs=2)
    contacts.fail(1, sensors.GOOD)
    assert contacts.sample(1) == 1 and not contacts.faulty
