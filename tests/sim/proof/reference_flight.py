"""A crew and an aircraft around the reference, for flights told in a line."""

from types import SimpleNamespace
from typing import Any

from oxlatch import vocabulary as w
from oxlatch.settings import Settings
from oxlatch_sim.proof.reference import Reference
from oxlatch_sim.proof.verdict_streams import quiet

SHORT: dict[str, int] = {
    "wake_ticks": 5,
    "purge_ticks": 20,
    "purge_good_ticks": 5,
    "purge_max_ticks": 60,
    "ready_ticks": 5,
    "gap_ticks": 10,
    "run_off_ticks": 10,
    "tail_ticks": 3,
    "disarm_ticks": 6,
    "release_ticks": 5,
    "contact_open_ticks": 3,
    "selection_ticks": 3,
    "stagger_ticks": 6,
    "master_off_ticks": 5,
    "ack_hold_ticks": 5,
    "push_judge_ticks": 5,
    "lead_ticks": 4,
    "lead_limit_ticks": 8,
    "run_ticks": 60,
    "run_warn_ticks": 40,
    "long_run_ticks": 8,
    "purge_after_run_ticks": 500,
    "hold_off_ticks": 20,
}


class Flight:
    """The reference with a crew and an aircraft that follow its outputs unless told otherwise."""

    def __init__(self, **changed: int) -> None:
        settings = Settings()
        for name, value in (SHORT | changed).items():
            setattr(settings, name, value)
        self.reference = Reference(settings)
        self.v: Any = SimpleNamespace()
        quiet(self.v)
        self.proofs_follow = self.rail_follows = True

    def run(self, ticks: int = 1, **verdicts: int) -> "Flight":
        for name, value in verdicts.items():
            setattr(self.v, name, value)
        r, v = self.reference, self.v
        for _ in range(ticks):
            if self.rail_follows:
                v.rail = w.RAIL_LIVE if r.bits & w.OUT_RUN else w.RAIL_DEAD
            v.current = r.ox | r.fuel << w.COIL_FUEL_SHIFT | (w.COIL_MASTER_OX if r.bits & w.OUT_MASTER_OX else 0)
            v.proof = r.ox if self.proofs_follow else 0
            r.tick(v)
        return self

    def arm(self) -> "Flight":
        return self.run(12).run(2, master=1, sel=0b101)

    def purge(self) -> "Flight":
        return self.run(30, purge=1).run(3, purge=0).run(2, ack=1).run(20, ack=0)

    def push(self, ticks: int = 1) -> "Flight":
        return self.run(ticks, contact=w.CONTACT_CLOSED, throttle=w.THROTTLE_FULL)

    @property
    def state(self) -> str:
        return self.reference.state_name

    def until(self, fuel: int) -> int:
        """Ticks until that many stages have fuel."""
        for count in range(200):
            if self.reference.fuel.bit_count() == fuel:
                return count
            self.run()
        raise AssertionError("fuel never came")


def ready(**changed: int) -> Flight:
    flight = Flight(**changed).arm().purge()
    assert flight.state == "READY"
    return flight


def flowing(**changed: int) -> Flight:
    flight = ready(**changed).push(40)
    assert (flight.state, flight.reference.fuel) == ("RUN", 0b101)
    return flight
