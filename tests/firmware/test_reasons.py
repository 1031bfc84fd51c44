"""Reasons are data: short, unique, ordered, and complete."""

from oxlatch import reasons, vocabulary
from oxlatch.lamps import TEXT_ROWS
from oxlatch.vocabulary import FUEL_FIRST, REFUSE, TELL
from oxlatch_sim.reason_words import REASONS


def test_a_pilot_reads_at_most_four_words():
    for row in REASONS:
        assert 1 <= len(row[2].split()) <= 4, row[2]
        assert row[2] == row[2].upper()


def test_every_reason_is_one_bit_of_its_own_below_the_small_integer_limit():
    seen = set()
    for word, bit, *_ in REASONS:
        assert bit & (bit - 1) == 0 and 0 < bit < 1 << 30
        assert (word, bit) not in seen
        seen.add((word, bit))


def test_every_named_bit_has_its_row():
    names = {
        name
        for name, value in vars(reasons).items()
        if name.isupper() and isinstance(value, int) and name != "WORDS" and not name[-1].isdigit()
    } - set(vars(vocabulary))
    assert len(names) == len(REASONS)


def test_rows_are_in_the_order_of_their_bits_and_faults_in_the_order_of_hazard_rows():
    for word in range(reasons.WORDS):
        rows = [row for row in REASONS if row[0] == word]
        assert [row[1] for row in rows] == sorted(row[1] for row in rows)
    for word in (0, 1):
        hazard_rows = [row[5] for row in REASONS if row[0] == word]
        assert hazard_rows == sorted(hazard_rows)


def test_faults_latch_and_waits_do_not():
    for word, _bit, text, reaction, latch, _row, todo, clears in REASONS:
        assert todo and clears
        if word < 2:
            assert latch > 0, text
            assert reaction >= FUEL_FIRST or latch >= 3, text
        else:
            assert latch == 0 and reaction in ((REFUSE,) if word == 2 else (REFUSE, TELL)), text


def test_the_lamp_text_knows_every_reason():
    assert sum(len(rows) for rows in TEXT_ROWS) == len(REASONS)


def test_the_waits_of_the_last_word_come_before_its_notes():
    notes = [bit for word, bit, reaction, _latch in reasons.RULES if word == 3 and reaction == TELL]
    assert reasons.WAITS_3 and min(notes) == reasons.WAITS_3 + 1
