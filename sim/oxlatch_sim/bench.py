"""Plant, virtual board and controller on one deterministic clock."""

from collections.abc import Iterable
from typing import Any

from oxlatch.controller import STATE_WORDS, Controller
from oxlatch.stock import GRAM_SHIFT
from oxlatch.vocabulary import (
    BOOT_LOCKED_L3,
    BOOT_LOCKED_L4,
    BOOT_LOST_ARMED,
    BOOT_STORE_UNREADABLE,
    BOOT_WATCHDOG,
    FIT_BUDGET,
    FIT_LOCKOUT_MEMORY,
    OUT_MASTER_OX,
    OUT_RUN,
    RAW_COUNT,
    REST,
    RPM_STOPPED,
    STATE_NAMES,
    SW_ACK,
    SW_BENCH,
    SW_INJECT,
    SW_MASTER,
    SW_PURGE,
    SW_SEL_SHIFT,
)
from oxlatch_sim import faults as faults_catalogue
from oxlatch_sim.board import VirtualBoard
from oxlatch_sim.plant.parameters import PlantParameters
from oxlatch_sim.plant.plant import Plant

PANEL = {"master": SW_MASTER, "purge": SW_PURGE, "ack": SW_ACK, "bench": SW_BENCH, "inject": SW_INJECT}
BROWN_OUT_V = 6.0
"""Below this bus voltage the controller's supply supervisor holds it in reset."""
BOOT_TICKS = 60
WATCHDOG_TICKS = 50
LOCKOUT_BOOT = {1: BOOT_LOST_ARMED, 3: BOOT_LOCKED_L3, 4: BOOT_LOCKED_L4, -1: BOOT_STORE_UNREADABLE}


def boot_word(lockout: int, watchdog: bool) -> int:
    """What start-up finds in the lockout memory and the reset cause, as bits of the raw boot sample."""
    return LOCKOUT_BOOT.get(lockout, 0) | (BOOT_WATCHDOG if watchdog else 0)


class Bench:
    """Steps everything tick by tick. The same seed and the same calls give the same run, bit for bit."""

    def __init__(
        self,
        parameters: PlantParameters,
        settings: Any,
        seed: int = 0,
        faults: Iterable[str] = (),
        line_phase: int | None = None,
    ) -> None:
        if settings.stages != len(parameters.stages):
            raise ValueError(f"settings are for {settings.stages} stages, the plant has {len(parameters.stages)}")
        self.settings = settings
        self.plant = Plant(parameters, seed, line_phase)
        self.board = VirtualBoard(self.plant)
        self.controller: Any = Controller(settings)
        self.raw = [0] * RAW_COUNT
        if settings.fitted & FIT_BUDGET:
            self.board.bottle_g = self.board.bottle_found_g = settings.bottle_full_g
        self.ticks = 0
        self.powered = True
        self.ran = False
        self.booted = False
        self.boot_left = 0
        self.stall_left = 0
        self.stalled = 0
        self.hung = False
        self.skip_every = 0
        self.disturbed: dict[str, Any] = {}
        for name in faults:
            self.inject(name)

    def step(self) -> None:
        """One controller tick, then 5 ms of plant."""
        self.ran = False
        self.booted = False
        if self.plant.electrical.bus_v < BROWN_OUT_V:
            self._power_off()
        elif not self.powered:
            self._power_on()
        if self.powered:
            self._controller()
        self.plant.advance()
        self.ticks += 1

    def _controller(self) -> None:
        if self.boot_left > 0:
            self.boot_left -= 1
            return
        late = self.skip_every and self.ticks % self.skip_every == 0
        if self.hung or self.stall_left > 0 or late:
            self.stall_left = max(self.stall_left - 1, 0)
            self.stalled += 1
            if self.stalled >= WATCHDOG_TICKS:
                self.reset(watchdog=True)
            return
        board = self.board
        board.elapsed = 1 + self.stalled
        self.stalled = 0
        raw = self.raw
        board.sample(raw)
        controller = self.controller
        controller.tick(raw)
        out = controller.out
        board.drive(out.ox, out.fuel, out.bits)
        if out.bits & OUT_RUN and board.elapsed == 1:
            board.kick()
        board.lamps(out.lamps, out.text)
        self._keep_lockout()
        if self.settings.fitted & FIT_BUDGET and controller.core.state == REST:
            board.bottle_g = controller.core.budget >> GRAM_SHIFT
        self.ran = True

    def _keep_lockout(self) -> None:
        """As the loop does: at once with memory that writes within a tick, otherwise only while all is off."""
        board = self.board
        store = self.controller.core.store
        if board.lockout in (store, -1):
            return
        driven = board.oxidizer | board.fuel | board.bits & ~OUT_MASTER_OX
        if self.settings.fitted & FIT_LOCKOUT_MEMORY or not driven:
            board.lockout_write(store)

    def run_ticks(self, count: int) -> None:
        """Step `count` ticks."""
        for _ in range(count):
            self.step()

    def run_until(self, state: int, limit: int) -> bool:
        """Step until the controller is in `state`; false when it is not there within `limit` ticks."""
        for _ in range(limit):
            if self.controller.core.state == state:
                return True
            self.step()
        return self.controller.core.state == state

    @property
    def state_name(self) -> str:
        """Name of the controller's state."""
        return STATE_NAMES[self.controller.core.state]

    def reset(self, watchdog: bool = False) -> None:
        """Restart the controller: outputs off, state lost, lockout memory kept."""
        self.board.outputs_off()
        self.controller = Controller(self.settings)
        lockout = self.board.lockout_read()
        self.board.boot = boot_word(lockout, watchdog)
        if self.settings.fitted & FIT_BUDGET:
            # A marker left in memory then says that the count was not brought up, and no more.
            if self.settings.fitted & FIT_LOCKOUT_MEMORY:
                self.board.boot &= ~BOOT_LOST_ARMED
            self.board.bottle_found_g = self.board.bottle_g if lockout == 0 else 0
        self.boot_left = BOOT_TICKS
        self.stalled = 0
        self.stall_left = 0
        self.hung = False
        self.booted = True

    def _power_off(self) -> None:
        if self.powered:
            self.powered = False
            self.board.outputs_off()

    def _power_on(self) -> None:
        self.powered = True
        self.reset()

    def set_switch(self, name: str, on: bool) -> None:
        """Move a panel switch: master, purge, ack, bench, inject."""
        bit = PANEL[name]
        self.board.panel = self.board.panel | bit if on else self.board.panel & ~bit
        if name == "master":
            self.plant.electrical.master = on
            self.plant.wake()

    def select(self, stages: Iterable[int]) -> None:
        """Turn on the selectors of these stages, 1 upwards, and all others off."""
        word = 0
        for stage in stages:
            if not 1 <= stage <= self.settings.stages:
                raise ValueError(f"stage {stage} does not exist; the plant has 1 to {self.settings.stages}")
            word |= 1 << (SW_SEL_SHIFT + stage - 1)
        self.board.panel = (self.board.panel & ~(15 << SW_SEL_SHIFT)) | word

    def set_throttle(self, percent: float, rate_per_s: float | None = None) -> None:
        """Begin moving the lever; above 100 presses into the detent."""
        self.plant.throttle.move(percent, rate_per_s)

    def push(self) -> None:
        """Press the lever through its detent."""
        self.set_throttle(self.plant.parameters.throttle.detent_travel)

    def release(self) -> None:
        """Let the lever back out of the detent, plate still open."""
        self.set_throttle(100.0)

    def inject(self, name: str, on: bool = True) -> None:
        """Apply a fault of the catalogue, or take it away; `name@2` names stage 2."""
        faults_catalogue.apply(self, name, on)

    def engine_stopped(self) -> bool:
        """Whether the controller believes the engine stopped."""
        return bool(self.controller.verdicts.rpm == RPM_STOPPED)

    def nozzle(self) -> dict[str, list[float]]:
        """Flow at the nozzles per stage in g/s."""
        return {
            "ox": [round(1000.0 * stage.oxidizer_kg_s, 2) for stage in self.plant.stages],
            "fuel": [round(1000.0 * stage.fuel_branch.out_kg_s, 3) for stage in self.plant.stages],
        }

    def snapshot(self) -> dict[str, Any]:
        """Everything, as a token for `restore`."""
        words = [0] * STATE_WORDS
        self.controller.state_words(words)
        out = self.controller.out
        parts = self.plant.components()
        return {
            "words": words,
            "out": dict(vars(out)),
            "verdicts": dict(vars(self.controller.verdicts)),
            "bench": _state(self),
            "board": _state(self.board),
            "parts": [(part, _state(part)) for part in parts],
            "random": self.plant.random.getstate(),
        }

    def restore(self, token: dict[str, Any]) -> None:
        """Go back to a snapshot taken on this bench."""
        _load(self, token["bench"])
        self.controller = Controller(self.settings)
        self.controller.load_words(token["words"])
        vars(self.controller.out).update(token["out"])
        vars(self.controller.verdicts).update(token["verdicts"])
        _load(self.board, token["board"])
        for part, state in token["parts"]:
            _load(part, state)
        self.plant.random.setstate(token["random"])


def _copied(value: Any) -> Any:
    """State that may change in place, copied; components are captured on their own."""
    if isinstance(value, list):
        return [_copied(item) for item in value]
    if isinstance(value, (dict, bytearray)):
        return value.copy()
    return value


def _state(part: Any) -> dict[str, Any]:
    return {name: _copied(value) for name, value in vars(part).items()}


def _load(part: Any, state: dict[str, Any]) -> None:
    vars(part).clear()
    vars(part).update({name: _copied(value) for name, value in state.items()})
