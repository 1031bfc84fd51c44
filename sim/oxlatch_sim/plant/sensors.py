"""Analogue sensors and contacts as the controller samples them, with the ways they fail."""

from math import exp
from random import Random

from oxlatch_sim.plant.parameters import SensorParameters

GOOD = 0
OPEN = 1
SHORTED = 2
FROZEN = 3
DRIFTING = 4
NOISY = 5
LATE = 6

ZERO_MV = 500.0
SPAN_MV = 4000.0
SUPPLY_MV = 5000
LOWEST_MV, HIGHEST_MV = 400.0, 4600.0
"""A healthy transducer saturates here, outside its scale but inside the bands that mean a broken lead."""
NOISE_TABLE = 1021


class Noise:
    """Gaussian numbers drawn once and read round: one list shared by all channels of a plant."""

    def __init__(self, seed: int) -> None:
        random = Random(seed)
        self.values = tuple(random.gauss(0.0, 1.0) for _ in range(NOISE_TABLE))


class AnalogSensor:
    """First-order lag, noise and quantisation; `read` gives integer millivolts once per controller tick."""

    def __init__(self, parameters: SensorParameters, noise: Noise, start: int, tick_s: float = 0.005) -> None:
        self.parameters = parameters
        self._noise = noise.values
        self._at = start % NOISE_TABLE
        self._gain = SPAN_MV / parameters.full_scale
        self._factor = 1.0 - exp(-tick_s / parameters.lag_s) if parameters.lag_s > 0.0 else 1.0
        self._zero_mv = ZERO_MV - parameters.zero * self._gain
        self._settled = 0.0
        self._step = 1.0 / parameters.step_mv
        self.fault = GOOD
        self.drift_mv_s = 0.0
        self._drift_mv = 0.0
        self._last_mv = 0
        self._late: list[int] = []
        self.tick_s = tick_s

    def start(self, value: float) -> None:
        """Begin settled at a value."""
        self._settled = value

    def read(self, value: float) -> int:
        """Millivolts after one more tick at `value`, in the unit of the full scale."""
        settled = self._settled
        settled += (value - settled) * self._factor
        self._settled = settled
        at = self._at + 1
        if at >= NOISE_TABLE:
            at = 0
        self._at = at
        clean = self._zero_mv + settled * self._gain + self._noise[at] * self.parameters.noise_mv
        # Quantise in converter steps, then report whole millivolts as the controller does.
        if clean < LOWEST_MV:
            clean = LOWEST_MV
        elif clean > HIGHEST_MV:
            clean = HIGHEST_MV
        found = int(int(clean * self._step + 0.5) * self.parameters.step_mv + 0.5)
        if self.fault:
            return self._failed(found)
        self._last_mv = found
        return found

    def _failed(self, found: int) -> int:
        fault = self.fault
        if fault == OPEN:
            return 5 + self._at % 7
        if fault == SHORTED:
            return SUPPLY_MV - self._at % 5
        if fault == FROZEN:
            return self._last_mv
        if fault == DRIFTING:
            self._drift_mv += self.drift_mv_s * self.tick_s
            return min(max(found + int(self._drift_mv), 0), SUPPLY_MV)
        if fault == NOISY:
            return min(max(found + int(800.0 * self._noise[(self._at * 7) % NOISE_TABLE]), 0), SUPPLY_MV)
        self._late.append(found)
        return self._late.pop(0) if len(self._late) > 40 else self._late[0]

    def heal(self) -> None:
        """Back to good."""
        self.fault = GOOD
        self._drift_mv = 0.0
        self._late = []


STUCK_OFF = 1
STUCK_ON = 2
CHATTERING = 3
SLOW = 4
SLOW_TICKS = 60
"""Controller ticks by which a slow contact lags."""
CHATTER_TICKS = 6
"""Half period of a chattering contact: about 17 edges a second."""


class Contacts:
    """A word of switch bits with bounce and faults per bit."""

    def __init__(self, random: Random, bounce_chance: float) -> None:
        self._random = random
        self._chance = bounce_chance
        self._before = 0
        self._bounce = 0
        self._faults: dict[int, int] = {}
        self._history: list[int] = []
        self._count = 0
        self.faulty = False

    def fail(self, bit: int, fault: int) -> None:
        """Put one bit into a fault, or heal it with GOOD."""
        faults = {known: kind for known, kind in self._faults.items() if known != bit}
        if fault != GOOD:
            faults[bit] = fault
        self._faults = faults
        self.faulty = bool(faults)
        self._history = []

    def sample(self, word: int) -> int:
        """The word as seen on the pins this tick."""
        changed = word ^ self._before
        if changed:
            self._before = word
            bit = 1
            while bit <= changed:
                if changed & bit and self._random.random() < self._chance:
                    self._bounce |= bit
                bit <<= 1
        if self._bounce:
            word ^= self._bounce
            self._bounce = 0
        if self.faulty:
            self._count += 1
            self._history.append(word)
            if len(self._history) > SLOW_TICKS:
                self._history.pop(0)
            word = self.wired(word, -1)
        return word

    def wired(self, word: int, mask: int) -> int:
        """The word with its faults but without bounce: what wired logic sees of the bits in `mask`."""
        for bit, fault in self._faults.items():
            if not bit & mask:
                continue
            if fault == STUCK_OFF:
                word &= ~bit
            elif fault == STUCK_ON:
                word |= bit
            elif fault == CHATTERING:
                if self._count // CHATTER_TICKS & 1:
                    word ^= bit
            elif self._history:
                word = (word & ~bit) | (self._history[0] & bit)
        return word
