"""What sense judged, in words."""

from oxlatch import vocabulary
from oxlatch_sim.observation import LEVELS
from oxlatch_tools.panel.shown import judged, read_from


def test_every_level_has_the_name_the_firmware_gives_it() -> None:
    for channel, names in LEVELS.items():
        for value, name in enumerate(names):
            assert getattr(vocabulary, f"{channel.upper()}_{name}") == value


def test_levels_stages_and_coils_are_told_in_words_and_zeros_are_not() -> None:
    told = judged(
        {"fuel": vocabulary.FUEL_PERMIT, "sel": 0b101, "current": 0b10_0001_0001, "late": 0, "chatter": 1, "supply": 99}
    )
    assert told == {"supply": "99", "fuel": "PERMIT", "sel": "1+3", "current": "O1 F1 F master", "chatter": "yes"}


def test_switches_are_had_from_verdicts_when_nothing_else_was_recorded() -> None:
    shown = read_from({"master": 1, "sel": 3, "contact": vocabulary.CONTACT_OPEN, "current": 1})
    assert shown["master"] == 1 and shown["sel"] == 3 and shown["purge"] == 0
    assert shown["detent"] == "OPEN" and shown["currents"] == 1
