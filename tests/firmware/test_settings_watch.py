"""Settings that change in memory are noticed within one round."""

import pytest

from oxlatch.settings import FIELDS, RECORD_BYTES, Settings, pack
from oxlatch.settings_watch import SettingsWatch


@pytest.fixture
def watch():
    settings = Settings()
    record = bytearray(RECORD_BYTES)
    pack(settings, record)
    return SettingsWatch(settings, [field[0] for field in FIELDS], record)


def test_untouched_settings_stay_good(watch):
    assert all(watch.step() for _ in range(3 * len(FIELDS)))


@pytest.mark.parametrize("name", [FIELDS[0][0], "supply_cut_mv", FIELDS[-1][0]])
def test_a_changed_field_is_noticed_within_a_round_and_stays_noticed(watch, name):
    setattr(watch.c, name, getattr(watch.c, name) ^ 1)
    answers = [watch.step() for _ in range(len(FIELDS))]
    assert answers[-1] is False
    pack(watch.c, watch.record)
    assert not watch.step()


def test_a_changed_byte_of_the_record_is_noticed_too(watch):
    watch.record[-9] ^= 0x40
    assert not [watch.step() for _ in range(len(FIELDS))][-1]
