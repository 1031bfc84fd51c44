"""A bench that records itself and is watched: every controller tick goes to a recorder and to the monitors."""

from oxlatch.vocabulary import RAW_BOOT
from oxlatch_sim.bench import Bench
from oxlatch_sim.monitor import Watch
from oxlatch_sim.observation import Scale, Tick
from oxlatch_sim.plant.parameters import PlantParameters, SensorParameters
from oxlatch_sim.plant.sensors import SPAN_MV, ZERO_MV
from oxlatch_sim.recording import Recorder, controller_words, make_header

PA_PER_BAR = 1e5


def plant_scales(parameters: PlantParameters) -> dict[str, Scale]:
    """Scales of the sensors of a plant, pressures in bar and throttle in per cent."""

    def scale(sensor: SensorParameters, unit: float) -> Scale:
        return Scale(ZERO_MV, ZERO_MV + SPAN_MV, sensor.full_scale / unit)

    sensors = parameters.sensors
    return {
        "throttle_pct": scale(sensors.throttle, 1.0),
        "supply_bar": scale(sensors.supply, PA_PER_BAR),
        "fuel_bar": scale(sensors.fuel, PA_PER_BAR),
        "block_bar": scale(sensors.block, PA_PER_BAR),
    }


class Flight:
    """Steps a bench; `recorder` and `watch` have seen every tick that the controller ran.

    Ticks are counted as the controller lives them: those lost to a stall or while power is off have no
    line of their own, and a reset has its boot line.
    """

    def __init__(self, bench: Bench, installation: str = "00000000") -> None:
        self.bench = bench
        scales = plant_scales(bench.plant.parameters)
        self.recorder = Recorder(make_header(bench.settings, "simulator", installation, scales))
        self.watch = Watch(bench.settings)
        self.n = 0
        self._seen: object = None

    def step(self) -> Tick | None:
        """One bench tick; the controller's tick as data, or none when it did not run."""
        bench, recorder = self.bench, self.recorder
        controller = bench.controller
        is_fresh = controller is not self._seen
        words = controller_words(controller) if is_fresh else []
        bench.step()
        if not bench.ran:
            return None
        if is_fresh:
            self._seen = controller
            recorder.boot(self.n, bench.raw[RAW_BOOT])
            recorder.snapshot(self.n, words)
        tick = recorder.tick(self.n, controller, bench.raw, bench.nozzle())
        self.watch.step({**tick, "boot": bench.raw[RAW_BOOT]} if is_fresh else tick)
        self.n += 1
        return tick

    def run(self, ticks: int) -> None:
        """Step some ticks."""
        for _ in range(ticks):
            self.step()
