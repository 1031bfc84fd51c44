"""What an exploration answers: states in the order of discovery, how each was reached, what was seen and broken."""

from dataclasses import dataclass, field

from oxlatch.reasons import O_STUCK_OPEN, STRAP_FITTED, TIME_SOON_UP, TOLD_3
from oxlatch.vocabulary import STATE_NAMES
from oxlatch_sim.proof.explore_small import Small
from oxlatch_sim.proof.explore_words import STATE

Key = tuple[int, ...]
Answer = tuple[list[tuple[Key, int, int]], int, int, list["Breach"]]
"""New states with their parents (state, letter), number of transitions, share of the digest, breaches."""

WORDS = 4
LOOK_MASKS = ((3, TOLD_3), (3, TIME_SOON_UP), (3, STRAP_FITTED), (0, O_STUCK_OPEN))
"""Reasons (word, bits) that change the lamps of a state, beside how high the latch is."""
Look = tuple[int | bool, ...]


@dataclass
class Seen:
    """What the transitions showed: reasons, changes of state, lamp patterns."""

    reasons: list[int] = field(default_factory=lambda: [0] * WORDS)
    edges: set[tuple[int, int]] = field(default_factory=set)
    looks: set[Look] = field(default_factory=set)

    def add(self, other: "Seen") -> None:
        """Take over what another part of the exploration saw."""
        for word in range(WORDS):
            self.reasons[word] |= other.reasons[word]
        self.edges |= other.edges
        self.looks |= other.looks

    def taken(self) -> "Seen":
        """What was seen since the last taking."""
        taken = Seen(self.reasons[:], set(self.edges), set(self.looks))
        self.reasons[:] = [0] * WORDS
        self.edges.clear()
        self.looks.clear()
        return taken


@dataclass
class Breach:
    """A broken claim: the state before, the letter, the claim's name."""

    claim: str
    state: int
    letter: int


@dataclass
class Exploration:
    """The result: `order` holds every state, `parents` how each was first reached (state, letter)."""

    small: Small
    order: list[Key] = field(default_factory=list)
    parents: list[tuple[int, int]] = field(default_factory=list)
    transitions: int = 0
    depth: int = 0
    seconds: float = 0.0
    digest: str = ""
    complete: bool = False
    breaches: dict[str, Breach] = field(default_factory=dict)
    seen: Seen = field(default_factory=Seen)

    @property
    def rate(self) -> float:
        """Transitions per second of wall clock."""
        return self.transitions / self.seconds if self.seconds else 0.0

    def path_to(self, number: int) -> list[tuple[int, int]]:
        """The shortest way to a state from a reset: (state before, letter) per tick."""
        way = []
        while self.parents[number][0] >= 0:
            way.append(self.parents[number])
            number = self.parents[number][0]
        return way[::-1]

    def count_by_state(self) -> dict[str, int]:
        """Explored states per state of the controller."""
        counts = dict.fromkeys(STATE_NAMES, 0)
        for key in self.order:
            counts[STATE_NAMES[key[STATE]]] += 1
        return counts
