"""The gate's contract on a gate that forgets the lead, to see the second tool find it."""

from oxlatch.gate import gate_stage
from oxlatch_sim.proof.gate_contract import WORD_MAX, keeps_its_promise  # noqa: F401 - named in the contract


def one_stage(ask_ox: bool, ask_fuel: bool, pushed: bool, fuel_ok: bool, word: int, lead_ticks: int, dry: bool) -> int:
    """
    pre: 0 <= word <= WORD_MAX
    pre: 1 <= lead_ticks <= 15
    post: keeps_its_promise(ask_ox, ask_fuel, pushed, fuel_ok, word, lead_ticks, dry, __return__)
    """
    return gate_stage(ask_ox, ask_fuel, pushed, fuel_ok, word, lead_ticks - 1, dry)
