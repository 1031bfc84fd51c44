"""From reset to a loop that is ready to run, and the record of what was found on the way. Let go once it has run."""

import gc
import sys
from binascii import hexlify

from oxlatch.controller import STATE_WORDS, Controller
from oxlatch.core import STORE_ARMED, STORE_NOTHING
from oxlatch.in_force import in_force
from oxlatch.journal import EVENT_BOOT, Journal
from oxlatch.let_go import let_go
from oxlatch.link import Link, Timing
from oxlatch.loop import Loop
from oxlatch.rest_work import RestWork, has_budget, has_lockout_memory
from oxlatch.settings import BAD_BOUNDS, BAD_CRC, BAD_VERSION, GOOD, RECORD_BYTES
from oxlatch.settings_watch import SettingsWatch
from oxlatch.vocabulary import (  # fmt: skip
    BOOT_BOUNDS_BAD, BOOT_CRC_BAD, BOOT_LOCKED_L3, BOOT_LOCKED_L4, BOOT_LOST_ARMED, BOOT_STORE_UNREADABLE,
    BOOT_VERSION_BAD, BOOT_WATCHDOG, RAW_BOOT, RAW_BOTTLE_G, RAW_COUNT,
)

# in the order of the bits FIT_*; one text, so that it leaves the heap with this module
FITTED_NAMES = (
    "MASTER,SELECTORS,PURGE,DETENT_NO,SUPPLY,RPM,BUS,ACK,DETENT_NC,THROTTLE,PROOF,MASTER_FUEL,CURRENTS,RAIL,"
    "FUEL_PRESSURE,LOCKOUT_MEMORY,BOTTLE_TEMPERATURE,AIR,KNOCK,OUTLET_1,OUTLET_2,MASTER_OX,MIXTURE,RETARD,FIRE,"
    "AIRSPEED,BUDGET,VENT_DOWN"
)

_SETTINGS_BITS = {GOOD: 0, BAD_CRC: BOOT_CRC_BAD, BAD_VERSION: BOOT_VERSION_BAD, BAD_BOUNDS: BOOT_BOUNDS_BAD}
_LOCKOUT_BITS = {STORE_NOTHING: 0, STORE_ARMED: BOOT_LOST_ARMED, 3: BOOT_LOCKED_L3, 4: BOOT_LOCKED_L4}
_SETTINGS_WORDS = {GOOD: "good", BAD_CRC: "corrupt", BAD_VERSION: "version", BAD_BOUNDS: "bounds"}


def not_fitted(settings):
    """Names of everything this installation does without."""
    names = FITTED_NAMES.split(",")
    return [names[i] for i in range(len(names)) if not settings.fitted >> i & 1]


def boot_word(settings, settings_found, lockout, by_watchdog):
    """What start-up found, as the raw sample BOOT_* that stands until the next reset.

    With a memory written within a tick and a counted bottle the armed marker is only the counter's: it
    makes the count worthless and is no fault.
    """
    word = _SETTINGS_BITS[settings_found] | _LOCKOUT_BITS.get(lockout, BOOT_STORE_UNREADABLE)
    if has_lockout_memory(settings) and has_budget(settings):
        word &= ~BOOT_LOST_ARMED
    return word | (BOOT_WATCHDOG if by_watchdog else 0)


def bottle_found(slots, settings, lockout):
    """Grams the store remembers of the bottle; 0 where that cannot be read, or power went before it was brought up."""
    if not has_budget(settings):
        return 0
    payload = slots.load()  # read even when not believed: the next save has to know which slot is older
    if payload is None or len(payload) != 2 or lockout != STORE_NOTHING:
        return 0
    return payload[0] | payload[1] << 8


def check_files():
    """(firmware digest, what was found of the files), by a module that is wanted only here."""
    from oxlatch.manifest import check_manifest

    found = check_manifest()
    let_go("manifest")
    return found


def identity_text(board, settings, record, settings_found, raw, files):
    """The start-up record: one `name=value` per line, told to whoever asks."""
    version = ".".join([str(part) for part in sys.implementation.version[:3]])
    lines = (
        "board=" + board.name,
        "python=" + sys.implementation.name + " " + version,
        "firmware=" + files[0],
        "files=" + files[1],
        "settings=" + hexlify(bytes(reversed(record[-4:]))).decode(),
        "settings_found=" + _SETTINGS_WORDS[settings_found],
        f"installation={settings.installation_high:04x}{settings.installation_low:04x}",
        f"stages={settings.stages}",
        "not_fitted=" + ",".join(not_fitted(settings)),
        "boot=" + str(raw[RAW_BOOT]),
        "bottle_g=" + str(raw[RAW_BOTTLE_G]),
        "state_words=" + str(STATE_WORDS),
        f"heap_free={gc.mem_free() if hasattr(gc, 'mem_free') else 0}",
    )
    return "\n".join(lines).encode()


def build(board):
    """Everything a loop needs, made on `board`. Allocates; nothing is driven here."""
    store = board.store
    record = store.settings.load()
    settings, found = in_force(record)
    if record is None:
        record = bytes(RECORD_BYTES)
    board.use_lockout_memory(has_lockout_memory(settings))
    lockout = board.lockout_read()
    raw = [0] * RAW_COUNT
    raw[RAW_BOOT] = boot_word(settings, found, lockout, board.reset_by_watchdog())
    raw[RAW_BOTTLE_G] = bottle_found(store.bottle, settings, lockout)
    controller = Controller(settings)
    journal = Journal()
    journal.restore(store.journal.load() or b"")
    journal.note(EVENT_BOOT, 0, controller, raw)
    timing = Timing()
    gc.collect()
    identity = identity_text(board, settings, record, found, raw, check_files())
    link = Link(board, controller, raw, journal, timing, identity, record)
    rest_work = RestWork(board, controller, journal, link, timing, store, raw, lockout)
    for slots in (store.settings, store.bottle):
        if slots.repair_due:
            slots.repair()
    gc.collect()
    watch = SettingsWatch(settings, settings.names, record) if found == GOOD else None
    return Loop(board, controller, journal, link, timing, rest_work, raw, watch)
