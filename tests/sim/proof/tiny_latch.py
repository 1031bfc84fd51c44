"""A tiny controller: B may follow A after a lead, both stop when let go. Small enough to prove in words."""

LEAD_MAX = 9


class Tiny:
    def __init__(self):
        self.on_n = 0
        self.a = 0
        self.b = 0


class Wish:
    def __init__(self):
        self.a = 0
        self.b = 0


class Lead:
    def __init__(self):
        self.lead_ticks = 4


class Seen:
    """The proof's own count."""

    def __init__(self):
        self.a_n = 0


def tiny_step(tiny, wish, lead):
    if not wish.a:
        tiny.a = 0
        tiny.b = 0
        tiny.on_n = 0
        return
    tiny.b = 1 if wish.b and tiny.on_n >= lead.lead_ticks else 0
    tiny.a = 1
    if tiny.on_n < LEAD_MAX:
        tiny.on_n += 1


def count_a(seen, tiny):
    if not tiny.a:
        seen.a_n = 0
    elif seen.a_n < 100:
        seen.a_n += 1


def on_n_is_true(tiny, seen):
    """The counter is the number of ticks A has been on, up to its limit."""
    return tiny.on_n == (seen.a_n if seen.a_n < LEAD_MAX else LEAD_MAX)


def b_needs_a(tiny):
    """B is on only while A is."""
    return not tiny.b or tiny.a


def b_follows_the_lead(tiny, seen, lead):
    """B is on only after A has been on for the lead."""
    return not tiny.b or seen.a_n > lead.lead_ticks


def off_is_at_once(tiny, wish):
    """Let go: both off in that tick."""
    return wish.a or not (tiny.a or tiny.b)


def b_runs(tiny):
    """B can be on."""
    return tiny.b


def never(tiny):
    """B on without A."""
    return tiny.b and not tiny.a
