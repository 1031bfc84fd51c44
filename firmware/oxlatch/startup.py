"""From reset to a loop that is ready to run, and the record of what was found on the way."""

import gc
import sys
from binascii import hexlify

from oxlatch.controller import STATE_WORDS, Controller
from oxlatch.journal import EVENT_BOOT, Journal
from oxlatch.link import Link, Timing
from oxlatch.loop import Loop
from oxlatch.manifest import check_manifest
from oxlatch.rest_work import RestWork, has_lockout_memory
from oxlatch.settings import BAD_BOUNDS, BAD_CRC, BAD_VERSION, GOOD, RECORD_BYTES, Settings, unpack
from oxlatch.settings_watch import SettingsWatch
from oxlatch.vocabulary import (  # fmt: skip
    BOOT_BOUNDS_BAD, BOOT_CRC_BAD, BOOT_LOCKED_L3, BOOT_LOCKED_L4, BOOT_LOST_ARMED, BOOT_STORE_UNREADABLE,
    BOOT_VERSION_BAD, BOOT_WATCHDOG, FIT_ACK, FIT_BUS, FIT_CURRENTS, FIT_DETENT_NC, FIT_DETENT_NO,
    FIT_FUEL_PRESSURE, FIT_LOCKOUT_MEMORY, FIT_MASTER, FIT_MASTER_FUEL, FIT_PROOF, FIT_PURGE, FIT_RAIL,
    FIT_RPM, FIT_SELECTORS, FIT_SUPPLY, FIT_THROTTLE, RAW_BOOT, RAW_COUNT,
)

FITTED_NAMES = (
    (FIT_MASTER, "MASTER"),
    (FIT_SELECTORS, "SELECTORS"),
    (FIT_PURGE, "PURGE"),
    (FIT_DETENT_NO, "DETENT_NO"),
    (FIT_SUPPLY, "SUPPLY"),
    (FIT_RPM, "RPM"),
    (FIT_BUS, "BUS"),
    (FIT_ACK, "ACK"),
    (FIT_DETENT_NC, "DETENT_NC"),
    (FIT_THROTTLE, "THROTTLE"),
    (FIT_PROOF, "PROOF"),
    (FIT_MASTER_FUEL, "MASTER_FUEL"),
    (FIT_CURRENTS, "CURRENTS"),
    (FIT_RAIL, "RAIL"),
    (FIT_FUEL_PRESSURE, "FUEL_PRESSURE"),
    (FIT_LOCKOUT_MEMORY, "LOCKOUT_MEMORY"),
)

_SETTINGS_BITS = {GOOD: 0, BAD_CRC: BOOT_CRC_BAD, BAD_VERSION: BOOT_VERSION_BAD, BAD_BOUNDS: BOOT_BOUNDS_BAD}
_LOCKOUT_BITS = {0: 0, 1: BOOT_LOST_ARMED, 3: BOOT_LOCKED_L3, 4: BOOT_LOCKED_L4}
_SETTINGS_WORDS = {GOOD: "good", BAD_CRC: "corrupt", BAD_VERSION: "version", BAD_BOUNDS: "bounds"}


def not_fitted(settings):
    """Names of the inputs this installation does without."""
    return [name for bit, name in FITTED_NAMES if not settings.fitted & bit]


def load_settings(slots):
    """(settings, record bytes, verdict of unpack). Settings that are not GOOD must drive nothing."""
    settings = Settings()
    record = slots.load()
    if record is None:
        return settings, bytes(RECORD_BYTES), BAD_CRC
    found = unpack(record, settings)
    if found != GOOD:
        settings = Settings()
    return settings, record, found


def boot_word(settings_found, lockout, by_watchdog):
    """What start-up found, as the raw sample BOOT_* that stands until the next reset."""
    word = _SETTINGS_BITS[settings_found] | _LOCKOUT_BITS.get(lockout, BOOT_STORE_UNREADABLE)
    return word | (BOOT_WATCHDOG if by_watchdog else 0)


def identity_text(board, settings, record, settings_found, word, manifest):
    """The start-up record: one `name=value` per line, told to whoever asks."""
    version = ".".join([str(part) for part in sys.implementation.version[:3]])
    lines = (
        "board=" + board.name,
        "python=" + sys.implementation.name + " " + version,
        "firmware=" + manifest[0],
        "files=" + manifest[1],
        "settings=" + hexlify(bytes(reversed(record[-4:]))).decode(),
        "settings_found=" + _SETTINGS_WORDS[settings_found],
        f"installation={settings.installation_high:04x}{settings.installation_low:04x}",
        f"stages={settings.stages}",
        "not_fitted=" + ",".join(not_fitted(settings)),
        f"boot={word}",
        f"state_words={STATE_WORDS}",
        f"heap_free={gc.mem_free() if hasattr(gc, 'mem_free') else 0}",
    )
    return "\n".join(lines).encode()


def build(board):
    """Everything a loop needs, made on `board`. Allocates; nothing is driven here."""
    store = board.store
    settings, record, found = load_settings(store.settings)
    board.use_lockout_memory(has_lockout_memory(settings))
    lockout = board.lockout_read()
    word = boot_word(found, lockout, board.reset_by_watchdog())
    controller = Controller(settings)
    raw = [0] * RAW_COUNT
    raw[RAW_BOOT] = word
    journal = Journal()
    journal.restore(store.journal.load() or b"")
    journal.note(EVENT_BOOT, 0, controller, raw)
    timing = Timing()
    gc.collect()
    identity = identity_text(board, settings, record, found, word, check_manifest())
    link = Link(board, controller, raw, journal, timing, identity, record)
    rest_work = RestWork(board, controller, journal, link, timing, store, raw, lockout)
    if store.settings.repair_due:
        store.settings.repair()
    gc.collect()
    watch = SettingsWatch(settings, record) if found == GOOD else None
    return Loop(board, controller, journal, link, timing, rest_work, raw, word, watch)
