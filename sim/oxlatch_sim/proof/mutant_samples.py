"""Raw samples for the recordings of sense: values on and beside every threshold, held for about every count.

Beside the walk there are side steps (one sample of one input at another mark, from where the walk is), slow walks in
which only one quantity moves, for the channels that think in seconds, and the raw samples of some bundled scenarios.
"""

import random
from array import array
from collections.abc import Iterator
from copy import copy
from importlib import import_module
from itertools import product
from typing import Any

from oxlatch import vocabulary as k
from oxlatch.sense import SENSE_WORDS
from oxlatch.sense_extras import SAT_FIRST_DK, SAT_STEP_DK
from oxlatch.settings import FIELDS, Settings
from oxlatch_sim.proof.mutant_recordings import Recording, SensePlayer, Sieve, WholePlayer, Words

WALKS = 8
WALK_TICKS = 600
HOLDS = (1, 1, 2, 2, 3, 4, 5, 6, 7, 9, 13, 30)
# Samples that are looked at in some turns of eight ticks only, and such a turn.
TURNS = {
    "BLOCK_MV": 1, "BOTTLE_DK": 0, "BARO_DAPA": 2, "AIR_DK": 2, "OUTLET_1_DK": 4, "OUTLET_2_DK": 4, "AIRSPEED_MV": 6,
}  # fmt: skip
SLOW_VALUES = 40
SAT_STEPS = 10
SLOW_HOLDS = (1, 4, 8, 9, 16, 24, 40, 64)
ASIDE_EVERY = 10
ASIDE_VALUES = 6  # per input
SCENARIOS = ("full-sortie-two-stages", "release-and-quick-repush", "power-glitch-in-flow")
WHOLE_TICKS = 3_000
CORE_EXTRAS = k.FIT_BOTTLE_TEMPERATURE - k.FIT_DETENT_NC  # every flag from the one to the other
EXTRAS = k.FIT_ALL & ~(k.FIT_BOTTLE_TEMPERATURE - 1)
UNFITTED = 0.12
FLAGS = range(k.FIT_DETENT_NC.bit_length() - 1, k.FIT_ALL.bit_length())

# raw sample: how the names of the settings that it is compared with begin
MARKS = {
    "THROTTLE_MV": ("throttle", "sensor"),
    "RPM": ("rpm",),
    "PULSE_AGE_MS": ("pulse",),
    "SUPPLY_MV": ("line", "supply", "sensor", "sat"),
    "FUEL_MV": ("fuel", "sensor"),
    "BLOCK_MV": ("fuel", "sensor"),
    "BUS_MV": ("bus",),
    "RAIL_MV": ("rail",),
    "AIRSPEED_MV": ("airspeed", "sensor"),
}
USUAL = {
    "ELAPSED": 1, "SWITCHES": k.SW_DETENT_NC, "THROTTLE_MV": 3000, "RPM": 2500, "SUPPLY_MV": 2800, "FUEL_MV": 1800,
    "BLOCK_MV": 1800, "BUS_MV": 13500, "EXTRAS": k.EX_MIXTURE_RICH | k.EX_RETARD, "BOTTLE_DK": 2930,
    "BARO_DAPA": 10133, "AIR_DK": 2882, "OUTLET_1_DK": 2882, "OUTLET_2_DK": 2882, "AIRSPEED_MV": 1500, "BOTTLE_G": 900,
}  # fmt: skip
TOGETHER = (
    ("SWITCHES", "THROTTLE_MV"), ("RPM", "PULSE_AGE_MS"), ("SUPPLY_MV", "BOTTLE_DK"), ("SWITCHES", "BLOCK_MV"),
    ("CURRENTS", "SHORTS"), ("BARO_DAPA", "AIR_DK"), ("OUTLET_1_DK", "OUTLET_2_DK"),
)  # fmt: skip
PHASE = next(at for at, (name, _count) in enumerate(SENSE_WORDS) if name == "phase")
ROW = next(at for at, (name, _count) in enumerate(SENSE_WORDS) if name == "row")
DIFFERENCES = ("chop", "fall", "rise", "drop", "match")  # settings that two samples differ by


def raw_names() -> dict[int, str]:
    """Index of every raw sample and its name."""
    found = {value: name[4:] for name, value in vars(k).items() if name.startswith("RAW_") and name != "RAW_COUNT"}
    return dict(sorted(found.items()))


def usual_samples() -> list[int]:
    """An aircraft at rest with nothing wrong."""
    return [USUAL.get(name, 0) for name in raw_names().values()]


def marks(c: Any) -> dict[int, tuple[int, ...]]:
    """For every raw sample the values on and beside what it is compared with."""
    poles = (k.SW_DETENT_NC, k.SW_DETENT_NO, 0, k.SW_DETENT_NO | k.SW_DETENT_NC)
    words = [pole | extra for pole in poles for extra in (0, 1, 2, 4, 32, 64, 0x500, 0x3000, 0x3001, 0xF000, 0xF001)]
    found: dict[int, tuple[int, ...]] = {}
    for index, name in raw_names().items():
        usual = USUAL.get(name, 0)
        unit = name.rpartition("_")[2]
        if name in MARKS:
            values = _compared(c, MARKS[name], usual)
        elif unit == "DK":
            values = {value for field, value in _constants() if field.endswith("_DK")}
            values |= {int(getattr(c, row[0])) for row in FIELDS if row[0].endswith("_dk")}
            values |= {SAT_FIRST_DK + SAT_STEP_DK * step for step in range(SAT_STEPS)}
        elif unit == "DAPA":
            values = {value for field, value in _constants() if field.endswith("_DAPA")}
            values |= {-(-c_density * 2882 // 2844) for c_density in densities(c)}
        elif name == "SWITCHES":
            found[index] = tuple(words)
            continue
        else:
            found[index] = {"ELAPSED": (0, 1, 2, 3, 4), "SERVICE": (0, 1, 2)}.get(name, (0, 1, 2, 4, 8, 15, 512))
            continue
        found[index] = tuple(sorted({max(value + step, 0) for value in values for step in (-1, 0, 1)} | {usual}))
    return found


def _compared(c: Any, begins: tuple[str, ...], usual: int) -> set[int]:
    values = set()
    for field, unit, *_rest in FIELDS:
        head, _, tail = field.partition("_")
        if head not in begins or unit not in ("mV", "rpm", "ms"):
            continue
        value = int(getattr(c, field))
        parts = tail.split("_")
        if "sum" in parts:
            continue
        values |= {usual + value, usual - value} if set(parts) & set(DIFFERENCES[:4]) and field != "throttle_drop_mv" else {value}
    return values


def _constants() -> list[tuple[str, int]]:
    held = vars(import_module("oxlatch.sense_extras"))
    return [(name, value) for name, value in held.items() if isinstance(value, int) and name.isupper()]


def densities(c: Any) -> list[int]:
    """Densities at which the rows of the altitude table begin."""
    return [int(getattr(c, field[0])) for field in FIELDS if field[0].startswith("density_")]


def settings_for(seed: int) -> Settings:
    """Usual thresholds, small counts; in most of them one input, each in its turn, is not fitted."""
    chance = random.Random(f"sense {seed}")
    c: Any = Settings()
    for field, unit, *_rest in FIELDS:
        if unit in ("ticks", "turns"):
            setattr(c, field, chance.randrange(2, 6))
    c.fitted = k.FIT_ALL
    for flag in FLAGS:
        if chance.random() < UNFITTED:
            c.fitted &= ~(1 << flag)
    if seed == 6:
        c.fitted &= ~(CORE_EXTRAS & ~k.FIT_DETENT_NC)
    if seed % 2:
        kept = [1 << flag for flag in FLAGS if EXTRAS >> flag & 1 and chance.random() < 0.4]
        outlets = (k.FIT_OUTLET_1, k.FIT_OUTLET_2, k.FIT_OUTLET_1, 0)[seed // 2 % 4]
        c.fitted = c.fitted & ~EXTRAS | sum(kept) & ~(k.FIT_OUTLET_1 | k.FIT_OUTLET_2) | outlets
    c.leak_watch_ticks = chance.choice((40, 60))
    c.shut_slow_ticks, c.shut_stuck_ticks = chance.choice(((2, 4), (4, 9)))
    c.chatter_limit_ticks, c.chatter_cost_ticks = chance.choice(((4, 2), (3, 3), (9, 4)))
    if seed % 4 == 2:
        c.match_mv = 60
        for step in range(SAT_STEPS):
            setattr(c, f"sat_{step}_mv", 2400 + 100 * step)
    c.knock_window_ticks = chance.choice((3, 12))
    return c


def groups() -> list[tuple[int, ...]]:
    """Raw samples that one channel looks at together; every other sample by itself."""
    index = {name: at for at, name in raw_names().items()}
    found = [tuple(index[name] for name in names) for names in TOGETHER]
    grouped = {at for group in found for at in group}
    return [*found, *[(at,) for at in index.values() if at not in grouped]]


def sense_recordings(walks: int = WALKS) -> Iterator[Recording]:
    """For every group of samples some walks with their side steps; then everything at once; then the slow walks."""
    known: set[Words] = set()
    everything = tuple(raw_names())
    for group in [*groups(), everything]:
        for seed in range(walks if group != everything else 2):
            yield RawWalk(group, seed, known).recording()
    for seed in (1, 2):
        yield slow_walk(seed)


class RawWalk:
    """Samples of one group held for a while each, everything else at rest; and what was driven."""

    def __init__(self, group: tuple[int, ...], seed: int, known: set[Words]) -> None:
        self.chance = random.Random(f"{group} {seed}")
        self.settings: Any = settings_for(seed)
        self.group = group
        self.marks = {at: values for at, values in marks(self.settings).items() if at in group}
        self.raw = usual_samples()
        self.usual = usual_samples()
        if seed >= 2:  # purged: the outlets are as cold as they have to be
            self.usual[k.RAW_OUTLET_1_DK] = self.usual[k.RAW_OUTLET_2_DK] = int(self.settings.outlet_cold_dk)
        self.left = dict.fromkeys(group, 0)
        self.driven = self.bits = 0
        self.calm = self.flutter = 0
        self.slow = any(raw_names()[at] in TURNS for at in group)
        self.sieve = Sieve(known, SensePlayer(self.settings), self.settings)

    def recording(self) -> Recording:
        """What the walk and its side steps show that no walk before has."""
        player = self.sieve.player
        if self.settings.fitted & k.FIT_BOTTLE_TEMPERATURE and k.RAW_BOTTLE_DK in self.group:
            self._saturation_aside(player.words())
        for tick in range(WALK_TICKS):
            self._step()
            given = (array("q", self.raw), self.driven, self.bits)
            if tick % ASIDE_EVERY == 0:
                self._step_aside(player.words())
            self.sieve.tick(given, (self.group, player.sense.phase))
        return self.sieve.recording

    def _saturation_aside(self, start: Words) -> None:
        """Line pressures on and beside the saturation pressure of every step of temperature, give and take."""
        start = ((*start[0][:PHASE], 7, *start[0][PHASE + 1 :]), start[1])
        sat = [int(getattr(self.settings, f"sat_{step}_mv")) for step in range(SAT_STEPS)]
        for step, beside in product(range(SAT_STEPS), (-1, 0, 1)):
            raw = array("q", self.raw)
            raw[k.RAW_BOTTLE_DK] = SAT_FIRST_DK + SAT_STEP_DK * step + beside
            give = self.settings.match_mv
            for limit in {self.settings.supply_permit_mv, *(mv + give for mv in sat), *(mv - give for mv in sat)}:
                for off in (-1, 0, 1):
                    raw[k.RAW_SUPPLY_MV] = max(limit + off, 0)
                    self.sieve.aside((array("q", raw), 0, 0), ("saturation", step, beside, limit, off), start)
        self.sieve.player.load(start)

    def _step(self) -> None:
        chance = self.chance
        self.calm -= self.calm > 0
        self.flutter -= self.flutter > 0
        if not self.calm and chance.random() < 0.02:
            self.calm = chance.choice((20, 40, 60))  # long enough for permits and for turns of the slow channels
        elif not self.flutter and chance.random() < 0.02:
            self.flutter = chance.choice((4, 9))
        for index, values in self.marks.items():
            if self.left[index]:
                self.left[index] -= 1
            elif not self.calm or chance.random() < 0.02:
                self.raw[index] = self.usual[index] if chance.random() < 0.5 else chance.choice(values)
                self.left[index] = chance.choice(SLOW_HOLDS if self.slow else HOLDS)
            if self.flutter:
                self.raw[index] = self.usual[index] if self.flutter & 1 else self._other(index)
        if chance.random() < (0.015 if self.calm or self.slow else 0.06):
            stages = chance.choice((0, 0, 1, 3, 15))
            self.driven = stages | chance.choice((0, stages)) << 4
            self.driven |= chance.choice((0, 0, k.COIL_PURGE, k.COIL_MASTER_FUEL))
            self.bits = k.OUT_RUN if self.driven or chance.random() < 0.2 else 0
        if k.RAW_CURRENTS not in self.group or chance.random() < 0.7:
            self.raw[k.RAW_CURRENTS] = self.driven

    def _other(self, index: int) -> int:
        """What a fluttering sample turns to: the contact to its other pole, anything else to either end."""
        if index == k.RAW_SWITCHES:
            return k.SW_DETENT_NO
        return self.chance.choice((self.marks[index][0], self.marks[index][-1]))

    def _step_aside(self, start: Words) -> None:
        chance = self.chance
        for index, values in self.marks.items():
            turn = TURNS.get(raw_names()[index])
            if turn is not None:  # looked at in this turn only
                start = ((*start[0][:PHASE], turn - 1 & 7, *start[0][PHASE + 1 :]), start[1])
            if index == k.RAW_BARO_DAPA and chance.random() < 0.5:  # the air has been thin for long
                start = ((*start[0][:ROW], k.ROWS - 1, *start[0][ROW + 1 :]), start[1])
            for value in chance.sample(values, min(ASIDE_VALUES if turn is None else SLOW_VALUES, len(values))):
                raw = array("q", self.raw)
                raw[index] = value
                sight = (index, value, start[0][PHASE], self.settings.fitted)
                self.sieve.aside((raw, self.driven, self.bits), sight, start)
        for driven in (0, 1, 3, 16, k.COIL_PURGE, k.COIL_MASTER_FUEL):
            for bits in (0, k.OUT_RUN, k.OUT_MASTER_FUEL):
                label = (self.group, driven, bits, start[0][PHASE])
                self.sieve.aside((array("q", self.raw), driven, bits), label, start)
        self.sieve.player.load(start)


def slow_walk(seed: int) -> Recording:
    """Line pressure that wanders over seconds while valves stay as they are; everything else at rest."""
    chance = random.Random(seed)
    player, recording = SensePlayer(Settings()), Recording(SensePlayer, Settings())
    raw = usual_samples()
    for driven, ticks in ((1, 2500), (0, 4500), (k.COIL_PURGE, 900), (3, 1500), (0, 6000), (1, 700), (0, 900)):
        for tick in range(ticks):
            if tick % 150 == 0:
                raw[k.RAW_SUPPLY_MV] = chance.choice((2700, 2740, 2780, 2781, 2820, 3020, 3021, 2600))
            given = (array("q", raw), driven, k.OUT_RUN if driven else 0)
            recording.add(None, given, player.tick(given))
    return recording


def whole_recordings(names: tuple[str, ...] = SCENARIOS) -> Iterator[Recording]:
    """The first ticks of some bundled scenarios, from reset on; also with a master oxidizer valve fitted."""
    from oxlatch_sim.plant.parameters import alpine_tug_parameters
    from oxlatch_sim.scenario import bundled, load, play

    for path in bundled():
        if path.stem not in names:
            continue
        raws: list[Any] = []
        first: list[Any] = []

        def keep(bench: Any, raws: list[Any] = raws, first: list[Any] = first) -> None:
            if bench.ran and len(raws) < WHOLE_TICKS:
                first[:] = first or [bench.controller]
                if bench.controller is first[0]:
                    raws.append(array("q", bench.raw))

        play(load(path), alpine_tug_parameters(), Settings(), on_tick=keep)
        more: Any = copy(first[0].settings)
        more.fitted |= k.FIT_MASTER_OX
        for settings in (first[0].settings, more):
            player, recording = WholePlayer(settings), Recording(WholePlayer, settings)
            for raw in raws:
                recording.add(None, raw, player.tick(raw))
            yield recording
