"""The inputs beyond the core: temperatures, barometer, airspeed, and four contacts, as the board samples them.

Slow quantities are sampled in every eighth controller tick, as a board does; what is not fitted samples nothing.
"""

from dataclasses import dataclass
from math import exp

from oxlatch.vocabulary import (
    EX_FIRE,
    EX_KNOCK,
    EX_MIXTURE_RICH,
    EX_RETARD,
    RAW_AIR_DK,
    RAW_AIRSPEED_MV,
    RAW_BARO_DAPA,
    RAW_BOTTLE_DK,
    RAW_OUTLET_1_DK,
    RAW_OUTLET_2_DK,
)
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.plant.sensors import (
    CHATTER_TICKS,
    CHATTERING,
    DRIFTING,
    FROZEN,
    GOOD,
    LATE,
    NOISE_TABLE,
    NOISY,
    OPEN,
    SHORTED,
    SLOW,
    SLOW_TICKS,
    STUCK_OFF,
    STUCK_ON,
    AnalogSensor,
    Noise,
)

EVERY_TICKS = 8
SLOW_S = 0.005 * EVERY_TICKS
AIR_DENSITY_KG_M3 = 1.225
KNOCK_EVERY_TICKS = 12
"""A detonating engine reports an event in about every second cycle at 2,000 rpm: 60 ms."""
KNOCK_TICKS = 2
CONTACTS = {"knock": EX_KNOCK, "mixture rich": EX_MIXTURE_RICH, "ignition retard": EX_RETARD, "fire": EX_FIRE}
LATE_READINGS = 250
"""A late slow sensor lags by ten seconds."""


@dataclass(frozen=True)
class SlowChannel:
    """How one slow quantity is sampled: whole units of `unit`, noise and lag, and what a broken lead reads."""

    raw: int
    unit: float
    lag_s: float
    noise: float
    open_reads: int
    shorted_reads: int


CHANNELS = {
    "bottle": SlowChannel(RAW_BOTTLE_DK, 0.1, 3.0, 0.1, 0, 6000),
    "air": SlowChannel(RAW_AIR_DK, 0.1, 20.0, 0.1, 0, 6000),
    "outlet_1": SlowChannel(RAW_OUTLET_1_DK, 0.1, 0.1, 0.3, 0, 6000),
    "outlet_2": SlowChannel(RAW_OUTLET_2_DK, 0.1, 0.1, 0.3, 0, 6000),
    "baro": SlowChannel(RAW_BARO_DAPA, 10.0, 0.2, 15.0, 0, 30000),
}


class SlowSensor:
    """Lag, noise and whole units; `read` is called in every eighth tick."""

    def __init__(self, channel: SlowChannel, noise: Noise, start: int, value: float) -> None:
        self.channel = channel
        self._noise = noise.values
        self._at = start % NOISE_TABLE
        self._factor = 1.0 - exp(-SLOW_S / channel.lag_s)
        self._settled = value
        self._last = 0
        self._drift = 0.0
        self._late: list[int] = []
        self.fault = GOOD
        self.drift_s = 0.0
        """Drift in whole units a second."""

    def read(self, value: float) -> int:
        """The sample after one more reading at `value`, in the channel's units."""
        channel = self.channel
        self._settled += (value - self._settled) * self._factor
        self._at = self._at + 1 if self._at + 1 < NOISE_TABLE else 0
        found = round((self._settled + channel.noise * self._noise[self._at]) / channel.unit)
        fault = self.fault
        if fault == GOOD:
            self._last = found
            return found
        if fault == OPEN:
            return channel.open_reads
        if fault == SHORTED:
            return channel.shorted_reads
        if fault == FROZEN:
            return self._last
        if fault == DRIFTING:
            self._drift += self.drift_s * SLOW_S
            return max(0, found + int(self._drift))
        if fault == NOISY:
            return max(0, found + int(400.0 * self._noise[(self._at * 7) % NOISE_TABLE]))
        if fault == LATE:
            self._late.append(found)
            return self._late.pop(0) if len(self._late) > LATE_READINGS else self._late[0]
        return found


class Extras:
    """What the inputs beyond the core would show, and what each makes of it when it has failed.

    `fitted` names them as the installation file does. Airspeed is metres a second; `knocking` is a detonating engine.
    """

    def __init__(self, parameters: PlantParameters, noise: Noise) -> None:
        fitted, airspeed = parameters.sensors.extras, parameters.sensors.airspeed
        bottle_k, air_k, air_pa = parameters.bottle.temperature_k, parameters.air_k, parameters.air_pa
        self.fitted = frozenset(fitted)
        self._wired = sum(bit for name, bit in CONTACTS.items() if name in self.fitted)
        self.bottle = SlowSensor(CHANNELS["bottle"], noise, 101, bottle_k)
        self.air = SlowSensor(CHANNELS["air"], noise, 203, air_k)
        self.outlet_1 = SlowSensor(CHANNELS["outlet_1"], noise, 307, bottle_k)
        self.outlet_2 = SlowSensor(CHANNELS["outlet_2"], noise, 401, bottle_k)
        self.baro = SlowSensor(CHANNELS["baro"], noise, 503, air_pa)
        self.airspeed = AnalogSensor(airspeed, noise, 601, SLOW_S)
        self.air_k = air_k
        self.air_pa = air_pa
        self.airspeed_m_s = 0.0
        self.second_outlet_dead = False
        self.knocking = False
        self.mixture_rich = True
        self.retard = True
        self.fire = False
        self.contact_faults: dict[int, int] = {}
        self._history: list[int] = []
        self._ticks = 0

    def sensors(self) -> list[SlowSensor | AnalogSensor]:
        """Everything that holds state beside this object."""
        return [self.bottle, self.air, self.outlet_1, self.outlet_2, self.baro, self.airspeed]

    def fail_contact(self, bit: int, fault: int) -> None:
        """Put one contact into a fault, or heal it with GOOD."""
        faults = {known: kind for known, kind in self.contact_faults.items() if known != bit}
        if fault != GOOD:
            faults[bit] = fault
        self.contact_faults = faults
        self._history = []

    def word(self) -> int:
        """The contacts in this tick, bounce left out."""
        if not self._wired:
            return 0
        self._ticks += 1
        word = 0
        if self.mixture_rich:
            word |= EX_MIXTURE_RICH
        if self.retard:
            word |= EX_RETARD
        if self.fire:
            word |= EX_FIRE
        if self.knocking and self._ticks % KNOCK_EVERY_TICKS < KNOCK_TICKS:
            word |= EX_KNOCK
        if self.contact_faults:
            word = self._failed(word)
        return word & self._wired

    def _failed(self, word: int) -> int:
        self._history.append(word)
        if len(self._history) > SLOW_TICKS:
            self._history.pop(0)
        for bit, fault in self.contact_faults.items():
            if fault == STUCK_OFF:
                word &= ~bit
            elif fault == STUCK_ON:
                word |= bit
            elif fault == CHATTERING and self._ticks // CHATTER_TICKS & 1:
                word ^= bit
            elif fault == SLOW:
                word = (word & ~bit) | (self._history[0] & bit)
        return word

    def sample(self, raw: list[int], skin_k: float, outlet_k: float, other_outlet_k: float) -> None:
        """Every slow quantity that is fitted, into the raw list."""
        fitted = self.fitted
        if "bottle temperature" in fitted:
            raw[RAW_BOTTLE_DK] = self.bottle.read(skin_k)
        if "air data" in fitted:
            raw[RAW_AIR_DK] = self.air.read(self.air_k)
            raw[RAW_BARO_DAPA] = self.baro.read(self.air_pa)
        if "purge outlet 1" in fitted:
            raw[RAW_OUTLET_1_DK] = self.outlet_1.read(outlet_k)
        if "purge outlet 2" in fitted:
            raw[RAW_OUTLET_2_DK] = self.outlet_2.read(other_outlet_k)
        if "airspeed" in fitted:
            impact_pa = 0.5 * AIR_DENSITY_KG_M3 * self.airspeed_m_s**2
            raw[RAW_AIRSPEED_MV] = self.airspeed.read(impact_pa)
