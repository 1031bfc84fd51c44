"""The virtual board: the interface of the real boards, with the plant behind its pins."""

from typing import Any

from oxlatch.vocabulary import (
    RAW_BLOCK_MV,
    RAW_BOOT,
    RAW_BOTTLE_G,
    RAW_BUS_MV,
    RAW_CURRENTS,
    RAW_ELAPSED,
    RAW_EXTRAS,
    RAW_FUEL_MV,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SERVICE,
    RAW_SHORTS,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    RAW_THROTTLE_MV,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_PROOF_SHIFT,
    TICK_MS,
)
from oxlatch_sim.plant.extras import EVERY_TICKS
from oxlatch_sim.plant.plant import Plant
from oxlatch_sim.plant.sensors import NOISE_TABLE


class VirtualBoard:
    """Samples the plant into a raw list, drives its coils, keeps the lockout memory through resets."""

    name = "virtual"

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.panel = 0
        self.elapsed = 1
        self.boot = 0
        self.service = 0
        self.lockout = 0
        self.bottle_g = 0
        self.bottle_found_g = 0
        self.lockout_writes = 0
        self.lamp_word = 0
        self.text = -1
        self.oxidizer = 0
        self.fuel = 0
        self.bits = 0
        self.rx = bytearray()
        self.tx = bytearray()
        self._volts_noise = [int(1000.0 * plant.parameters.sensors.volts_noise_v * n) for n in plant.noise]
        self._at = 0
        self.currents_stuck_on = 0
        self.currents_stuck_off = 0

    def outputs_off(self) -> None:
        """What the pull-downs do at every reset."""
        self.drive(0, 0, 0)

    def sample(self, raw: list[int]) -> None:
        """Every raw sample of this tick into `raw`."""
        plant = self.plant
        throttle = plant.throttle
        word = self.panel
        if throttle.no_made:
            word |= SW_DETENT_NO
        if throttle.nc_made:
            word |= SW_DETENT_NC
        raw[RAW_ELAPSED] = self.elapsed
        raw[RAW_SWITCHES] = plant.contacts.sample(word | plant.proofs << SW_PROOF_SHIFT)
        raw[RAW_CURRENTS] = (plant.currents | self.currents_stuck_on) & ~self.currents_stuck_off
        raw[RAW_SHORTS] = plant.shorts
        raw[RAW_THROTTLE_MV] = plant.throttle_sensor.read(min(100.0, throttle.lever))
        self._slow_channels(raw)

    def _slow_channels(self, raw: list[int]) -> None:
        plant = self.plant
        engine = plant.engine
        electrical = plant.electrical
        raw[RAW_RPM] = engine.measured_rpm
        raw[RAW_PULSE_AGE_MS] = engine.pulse_age_ms
        raw[RAW_SUPPLY_MV] = plant.supply_sensor.read(plant.line.pressure_pa)
        raw[RAW_FUEL_MV] = plant.fuel_sensor.read(plant.fuel.supply_pa)
        raw[RAW_BLOCK_MV] = plant.block_sensor.read(plant.fuel.block_pa)
        at = self._at + 1 if self._at + 1 < NOISE_TABLE else 0
        self._at = at
        noise = self._volts_noise[at]
        bus_mv = int(1000.0 * electrical.bus_v * electrical.sense_share) + noise
        rail_mv = int(1000.0 * electrical.rail_v * electrical.rail_sense_share) + noise
        raw[RAW_BUS_MV] = max(0, bus_mv)
        raw[RAW_RAIL_MV] = max(0, rail_mv)
        raw[RAW_BOOT] = self.boot
        raw[RAW_SERVICE] = self.service
        raw[RAW_BOTTLE_G] = self.bottle_found_g
        if plant.extras.fitted:
            raw[RAW_EXTRAS] = plant.extras.word()
            if plant.ticks % EVERY_TICKS == 0:
                plant.sample_extras(raw)

    def drive(self, ox: int, fuel: int, bits: int) -> None:
        """The controller's outputs."""
        if ox != self.oxidizer or fuel != self.fuel or bits != self.bits:
            self.oxidizer = ox
            self.fuel = fuel
            self.bits = bits
            self.plant.drive(ox, fuel, bits)

    def kick(self) -> None:
        """Retrigger the one-shot of the run switch."""
        self.plant.electrical.kick()

    def lamps(self, word: int, text: int) -> None:
        """Show the packed lamp word and a reason by its index, -1 for none."""
        self.lamp_word = word
        self.text = text

    def ticks_us(self) -> int:
        """Simulated time in microseconds, 30 bits."""
        return (self.plant.ticks * TICK_MS * 1000) & 0x3FFFFFFF

    def link_read(self, buffer: Any) -> int:
        """Bytes waiting on the link."""
        count = min(len(buffer), len(self.rx))
        buffer[:count] = self.rx[:count]
        del self.rx[:count]
        return count

    def link_write(self, buffer: Any, count: int) -> int:
        """Take all of it."""
        self.tx += bytes(buffer[:count])
        return count

    def lockout_read(self) -> int:
        """The word in the lockout memory; -1 when it cannot be read."""
        return self.lockout

    def lockout_write(self, word: int) -> None:
        """Keep a word through resets."""
        if self.lockout >= 0:
            self.lockout = word
            self.lockout_writes += 1
