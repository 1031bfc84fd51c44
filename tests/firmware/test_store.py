"""The two-slot store: cut at every byte, rotted at every byte, never anything but one of two whole records."""

import pytest
from tests.firmware.desk_bench import FakeBoard, PowerCut, Slots, record

from oxlatch.in_force import in_force
from oxlatch.settings import BAD_CRC, GOOD, Settings
from oxlatch.startup import boot_word
from oxlatch.store import (
    EXTRA_BYTES,
    LOCKOUT_WORDS,
    UNREADABLE,
    Files,
    Store,
    TwoSlots,
    lockout_pattern,
    lockout_read,
    lockout_word,
    slot_bytes,
)
from oxlatch.vocabulary import (
    BOOT_CRC_BAD,
    BOOT_LOCKED_L3,
    BOOT_LOCKED_L4,
    BOOT_LOST_ARMED,
    BOOT_STORE_UNREADABLE,
    BOOT_WATCHDOG,
)


def other_settings():
    settings = Settings()
    settings.lead_ticks = 11
    return record(settings)


@pytest.mark.parametrize("in_place", [False, True])
def test_power_cut_at_every_byte_of_a_save_leaves_the_old_record_or_the_new(in_place):
    old, new = record(), other_settings()
    seen = set()
    whole = 2 * (len(new) + EXTRA_BYTES)
    for cut in range(whole + 1):
        backend = Slots()
        backend.in_place = in_place
        assert Store(backend).settings.save(old)
        backend.cut_at = cut
        slots = Store(backend).settings
        slots.load()
        try:
            finished = slots.save(new)
        except PowerCut:
            finished = False
        backend.cut_at = None
        found = Store(backend).settings.load()
        assert found in (old, new), cut
        assert found == new or not finished
        seen.add(found)
        again = Store(backend).settings
        again.load()
        assert again.save(old), "a cut save must not stand in the way of the next"
        assert Store(backend).settings.load() == old
    assert seen == {old, new}


def test_a_save_without_a_mirror_never_touches_the_slot_in_force():
    old, new = b"old journal" * 9, b"new journal" * 7
    for cut in range(len(new) + EXTRA_BYTES):
        backend = Slots()
        assert TwoSlots(backend, "journal", False).save(old)
        backend.cut_at = cut
        slots = TwoSlots(backend, "journal", False)
        slots.load()
        with pytest.raises(PowerCut):
            slots.save(new)
        backend.cut_at = None
        assert TwoSlots(backend, "journal", False).load() == old


def test_power_cut_at_every_byte_of_the_first_save_ever_leaves_nothing_or_the_record():
    new = record()
    for cut in range(2 * (len(new) + EXTRA_BYTES)):
        backend = Slots()
        backend.cut_at = cut
        with pytest.raises(PowerCut):
            Store(backend).settings.save(new)
        backend.cut_at = None
        assert Store(backend).settings.load() in (None, new)


def test_one_rotted_byte_anywhere_never_brings_back_older_settings():
    backend = Slots()
    slots = Store(backend).settings
    assert slots.save(record())
    assert slots.save(other_settings())
    for name in ("settings.0", "settings.1"):
        good = backend[name]
        for at in range(len(good)):
            backend[name] = good[:at] + bytes((good[at] ^ 0x10,)) + good[at + 1 :]
            assert Store(backend).settings.load() == other_settings()
        backend[name] = good


def test_a_load_that_found_the_slots_different_repairs_them():
    backend = Slots()
    assert Store(backend).settings.save(record())
    del backend["settings.1"]
    slots = Store(backend).settings
    slots.load()
    assert slots.repair_due
    slots.repair()
    assert backend["settings.0"] == backend["settings.1"]
    assert not slots.repair_due


def test_a_full_disk_keeps_the_record_in_force():
    class Full(Slots):
        def write(self, name, data):
            raise OSError(28)

    backend = Full({})
    backend["settings.0"] = slot_bytes(1, record())
    slots = Store(backend).settings
    assert slots.load() == record()
    assert not slots.save(other_settings())
    assert Store(backend).settings.load() == record()


def test_a_write_that_reads_back_otherwise_does_not_count():
    class Forgetful(Slots):
        def write(self, name, data):
            self[name] = data[:-1] + b"\0"

    assert not TwoSlots(Forgetful(), "settings", True).save(record())


def test_missing_or_foreign_settings_never_become_a_default_that_drives():
    for backend in (Slots(), Slots({"settings.0": b"OXT", "settings.1": b"\xff" * 500})):
        settings, found = in_force(Store(backend).settings.load())
        assert found == BAD_CRC
        assert boot_word(settings, found, 0, False) == BOOT_CRC_BAD
        assert settings.stages == Settings().stages


def test_files_on_a_disk_keep_what_was_saved(tmp_path):
    fed = []
    files = Files(f"{tmp_path}/", lambda: fed.append(1))
    payload = bytes(range(256)) * 20
    assert TwoSlots(files, "journal", False).save(payload)
    assert TwoSlots(Files(f"{tmp_path}/"), "journal", False).load() == payload
    assert len(fed) == 6, "the watchdog is fed after every kilobyte"


def test_lockout_words_survive_and_anything_else_is_unreadable():
    board = FakeBoard()
    assert board.lockout_read() == UNREADABLE
    for word in LOCKOUT_WORDS:
        board.lockout_write(word)
        assert lockout_read(Store(board.backend).lockout) == word
    board.store.lockout.save(b"\x02")
    assert board.lockout_read() == UNREADABLE


def test_the_memory_pattern_says_its_word_or_is_unreadable():
    pattern = bytearray(8)
    for word in LOCKOUT_WORDS:
        lockout_pattern(word, pattern)
        assert lockout_word(pattern) == word
        for cut in range(1, 8):
            for before in LOCKOUT_WORDS:
                mixed = bytearray(8)
                lockout_pattern(before, mixed)
                mixed[:cut] = pattern[:cut]
                assert lockout_word(mixed) in (UNREADABLE, word) or before == word
    for blank in (b"\0" * 8, b"\xff" * 8):
        assert lockout_word(blank) == UNREADABLE


def test_every_start_up_finding_has_its_bit():
    plain = Settings()
    assert boot_word(plain, GOOD, 0, False) == 0
    assert boot_word(plain, GOOD, 1, False) == BOOT_LOST_ARMED
    assert boot_word(plain, GOOD, 3, False) == BOOT_LOCKED_L3
    assert boot_word(plain, GOOD, 4, False) == BOOT_LOCKED_L4
    assert boot_word(plain, GOOD, UNREADABLE, False) == BOOT_STORE_UNREADABLE
    assert boot_word(plain, GOOD, 0, True) == BOOT_WATCHDOG
