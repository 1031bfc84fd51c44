"""A recording taken while a bench is stepped, from any tick of its run."""

from typing import Any

from oxlatch.vocabulary import RAW_BOOT
from oxlatch_sim.bench import Bench
from oxlatch_sim.flight import plant_scales
from oxlatch_sim.recording import Recorder, controller_words, make_header


class Tap:
    """Call `before` and `after` around every step. The recording counts its own ticks from 0."""

    def __init__(self, bench: Bench, installation: str) -> None:
        scales = plant_scales(bench.plant.parameters)
        self.bench = bench
        self.recorder = Recorder(make_header(bench.settings, "simulator", installation, scales))
        self.ticks = 0
        self._boot = bench.ticks == 0
        self._words: list[int] | None = None
        self._controller: Any = None

    def before(self) -> None:
        """Just before a step: a controller seen for the first time is noted as it stands."""
        controller = self.bench.controller
        if controller is not self._controller:
            self._controller = controller
            self._words = controller_words(controller)

    def after(self) -> None:
        """Just after it."""
        bench, recorder = self.bench, self.recorder
        if bench.booted:
            self._boot = True
        if not bench.ran:
            return
        if self._words is not None:
            if self._boot:
                recorder.boot(self.ticks, bench.raw[RAW_BOOT])
            recorder.snapshot(self.ticks, self._words)
            self._boot, self._words = False, None
        recorder.tick(self.ticks, bench.controller, bench.raw, bench.nozzle())
        self.ticks += 1
