"""A cockpit for tests: the controller with switches to throw and a plant that obeys at once."""

import pytest

from oxlatch.controller import Controller
from oxlatch.core import CoreState
from oxlatch.gate import GateState
from oxlatch.sense import SenseState, Verdicts
from oxlatch.settings import Settings
from oxlatch.vocabulary import (
    BLOCK_CLEAN,
    BUS_PERMIT,
    COIL_FUEL_SHIFT,
    COIL_MASTER_FUEL,
    COIL_MASTER_OX,
    COIL_PURGE,
    CONTACT_OPEN,
    FUEL_PERMIT,
    LINE_GOOD,
    OUT_MASTER_FUEL,
    OUT_MASTER_OX,
    OUT_PURGE,
    OUT_RUN,
    RAIL_DEAD,
    RAIL_LIVE,
    RAW_BLOCK_MV,
    RAW_BUS_MV,
    RAW_COUNT,
    RAW_CURRENTS,
    RAW_ELAPSED,
    RAW_FUEL_MV,
    RAW_PULSE_AGE_MS,
    RAW_RAIL_MV,
    RAW_RPM,
    RAW_SUPPLY_MV,
    RAW_SWITCHES,
    RAW_THROTTLE_MV,
    RPM_WINDOW,
    SHUT_CLEAN,
    STATE_NAMES,
    SUPPLY_PERMIT,
    SW_ACK,
    SW_DETENT_NC,
    SW_DETENT_NO,
    SW_MASTER,
    SW_PROOF_SHIFT,
    SW_PURGE,
    SW_SEL_SHIFT,
    THROTTLE_FULL,
)


def good_verdicts() -> Verdicts:
    """Everything a READY controller wants to see, throttle back, one stage selected."""
    v = Verdicts()
    v.master = 1
    v.sel = 1
    v.contact = CONTACT_OPEN
    v.throttle = THROTTLE_FULL
    v.throttle_low_seen = 1
    v.rpm = RPM_WINDOW
    v.supply = SUPPLY_PERMIT
    v.line = LINE_GOOD
    v.fuel = FUEL_PERMIT
    v.block = BLOCK_CLEAN
    v.bus = BUS_PERMIT
    v.rail = RAIL_DEAD
    v.shut = SHUT_CLEAN
    return v


class Cockpit:
    """Raw switches and readings in engineering words; valves, proofs and currents obey after `proof_ticks`."""

    def __init__(self) -> None:
        self.settings = Settings()
        self.controller = Controller(self.settings)
        self.raw = [0] * RAW_COUNT
        self.raw[RAW_ELAPSED] = 1
        self.raw[RAW_THROTTLE_MV] = 1000
        self.raw[RAW_RPM] = 2600
        self.raw[RAW_PULSE_AGE_MS] = 8
        self.raw[RAW_SUPPLY_MV] = 2600
        self.raw[RAW_FUEL_MV] = 1800
        self.raw[RAW_BLOCK_MV] = 1700
        self.raw[RAW_BUS_MV] = 14000
        self.master = self.purge = self.ack = self.pushed = False
        self.nc_follows = True
        self.selected = 0
        self.key = 0
        self.proof_ticks = 4
        self.proof_dead = 0
        self.current_dead = 0
        self.rail_dead = False
        self.history: list[tuple[str, int, int, int]] = []
        self._on = [0, 0, 0, 0]

    @property
    def state(self) -> str:
        return STATE_NAMES[self.controller.core.state]

    def step(self, ticks: int = 1) -> None:
        for _ in range(ticks):
            self._sample()
            self.controller.tick(self.raw)
            out = self.controller.out
            self.history.append((self.state, out.ox, out.fuel, out.bits))

    def _sample(self) -> None:
        out = self.controller.out
        proof = 0
        for i in range(4):
            self._on[i] = self._on[i] + 1 if (out.ox >> i) & 1 else 0
            if self._on[i] >= self.proof_ticks:
                proof |= 1 << i
        word = (SW_MASTER if self.master else 0) | (SW_PURGE if self.purge else 0) | (SW_ACK if self.ack else 0)
        word |= (SW_DETENT_NO if self.pushed else 0) | self.key
        word |= SW_DETENT_NC if not self.pushed or not self.nc_follows else 0
        word |= self.selected << SW_SEL_SHIFT | (proof & ~self.proof_dead) << SW_PROOF_SHIFT
        coils = out.ox | out.fuel << COIL_FUEL_SHIFT
        coils |= COIL_PURGE if out.bits & OUT_PURGE else 0
        coils |= COIL_MASTER_FUEL if out.bits & OUT_MASTER_FUEL else 0
        coils |= COIL_MASTER_OX if out.bits & OUT_MASTER_OX else 0
        self.raw[RAW_SWITCHES] = word
        self.raw[RAW_CURRENTS] = coils & ~self.current_dead
        self.raw[RAW_RAIL_MV] = 14000 if out.bits & OUT_RUN and not self.rail_dead else 0

    def until(self, state: str, limit: int = 4000) -> int:
        """Step until the state is reached; return the ticks it took."""
        for n in range(limit):
            if self.state == state:
                return n
            self.step()
        raise AssertionError(f"{state} not reached in {limit} ticks, still {self.state}")

    def arm(self, selected: int = 3) -> None:
        """From reset to WAITING with a selection."""
        self.until("REST")
        self.step(20)
        self.master = True
        self.selected = selected
        self.until("WAITING")

    def purge_line(self) -> None:
        self.purge = True
        self.step(self.settings.purge_ticks + 60)
        self.purge = False
        self.step(20)
        self.ack = True
        self.step(10)
        self.ack = False

    def make_ready(self, selected: int = 3) -> None:
        self.arm(selected)
        self.purge_line()
        self.until("READY")

    def push(self) -> None:
        self.pushed = True
        self.raw[RAW_THROTTLE_MV] = 4500

    def release(self) -> None:
        self.pushed = False

    def fly(self, selected: int = 3) -> None:
        """To RUN with the selection flowing."""
        self.make_ready(selected)
        self.push()
        self.until("RUN")


@pytest.fixture
def cockpit() -> Cockpit:
    return Cockpit()


@pytest.fixture
def verdicts() -> Verdicts:
    return good_verdicts()


@pytest.fixture
def flowing():
    """Core, gate, verdicts and settings of stage 1 in full flow, as the gate sees them."""
    v = good_verdicts()
    v.contact = 3
    v.rail = RAIL_LIVE
    v.proof = 15
    v.current = 15
    core = CoreState()
    core.ask_ox = core.ask_fuel = 1
    core.ask_bits = OUT_RUN | OUT_MASTER_FUEL
    return core, GateState(), v, Settings()


@pytest.fixture
def sense():
    return SenseState(), Verdicts(), Settings()
