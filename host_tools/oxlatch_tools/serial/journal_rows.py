"""Journal records as rows, and rows as a recording."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from struct import error as struct_error
from struct import unpack
from types import SimpleNamespace
from typing import Any

from oxlatch import journal as firmware_journal
from oxlatch import vocabulary as v
from oxlatch_sim.observation import Scale, Tick, driven, readings, reason_words
from oxlatch_sim.recording import Recorder, make_header


@dataclass(frozen=True)
class Row:
    """One journal record. `n` counts ticks through every reset in the journal."""

    n: int
    seq: int
    tick: int
    event: int
    state: int
    reaction: int
    latch: int
    ox: int
    fuel: int
    bits: int
    ask_ox: int
    ask_fuel: int
    ask_bits: int
    switches: int
    proof: int
    text: int
    why: tuple[int, ...]
    cause: tuple[int, ...]
    raw: tuple[int, ...]

    @property
    def is_boot(self) -> bool:
        """Whether a start-up or the beginning of an injected flight made this record."""
        return bool(self.event & firmware_journal.EVENT_BOOT)

    @property
    def is_injected(self) -> bool:
        """Whether its samples came over the link."""
        return bool(self.event & firmware_journal.EVENT_INJECTED)

    @property
    def seconds(self) -> float:
        """Time since the first record."""
        return self.n * v.TICK_MS / 1000

    @property
    def reasons(self) -> list[str]:
        """Words of all standing reasons."""
        return list(reason_words(*self.why))

    @property
    def first_cause(self) -> str | None:
        """Words of the first cause of the latch, if there is one."""
        words = reason_words(*self.cause, 0, 0)
        return words[0] if words else None

    @property
    def contact(self) -> int:
        """The debounced contact as a verdict level."""
        if self.switches & v.SW_DETENT_NO:
            return v.CONTACT_CLOSED
        return v.CONTACT_OPEN if self.switches & v.SW_DETENT_NC else v.CONTACT_UNSURE

    @property
    def selected(self) -> int:
        """Selectors on, a bit per stage."""
        return (self.switches >> v.SW_SEL_SHIFT) & 15


def rows_of(records: Iterable[bytes]) -> list[Row]:
    """Rows of journal records, oldest first. Raises ValueError for a record of another size."""
    rows: list[Row] = []
    base = 0
    for data in records:
        try:
            got = unpack(firmware_journal.RECORD_FORMAT, data)
        except struct_error as error:
            raise ValueError(
                f"a journal record has {len(data)} bytes, this version reads {firmware_journal.RECORD_BYTES}: "
                "the firmware on the board is another one"
            ) from error
        if rows and (got[2] & firmware_journal.EVENT_BOOT or base + got[1] <= rows[-1].n):
            base = rows[-1].n + 1 - got[1]
        elif not rows:
            base = -got[1]
        values = [base + got[1], *got[:15], got[15:19], got[19:21], got[21:]]
        rows.append(Row(**{item.name: value for item, value in zip(fields(Row), values, strict=True)}))
    return rows


def tick_of(row: Row, scales: Mapping[str, Scale]) -> Tick:
    """A row as a recording's tick."""
    seen = SimpleNamespace(
        master=int(bool(row.switches & v.SW_MASTER)),
        contact=row.contact,
        purge=int(bool(row.switches & v.SW_PURGE)),
        ack=int(bool(row.switches & v.SW_ACK)),
        sel=row.selected,
        proof=row.proof,
    )
    asked = driven(row.ask_ox, row.ask_fuel, row.ask_bits, 0, -1)
    out = driven(row.ox, row.fuel, row.bits, 0, row.text)
    return {
        "tick": row.n,
        "raw": list(row.raw),
        "in": readings(seen, list(row.raw), scales),
        "state": v.STATE_NAMES[row.state],
        "why": row.reasons,
        "first_cause": row.first_cause,
        "class": v.CLASS_NAMES[row.reaction],
        "latch": row.latch,
        "cmd": {key: value for key, value in asked.items() if key not in ("lamps", "text")},
        "out": {key: value for key, value in out.items() if key != "lamps"},
    }


def recording_of(
    rows: list[Row], settings: Any, identity: Mapping[str, str], scales: Mapping[str, Scale], dropped: int
) -> bytes:
    """The journal as a recording from a controller. It holds the ticks in which something changed, and no others."""
    header = make_header(settings, "controller", identity.get("installation", "00000000"), dict(scales))
    header["firmware"] = identity.get("firmware", "00000000")
    recorder = Recorder(header)
    for row in rows:
        if row.is_boot:
            recorder.boot(row.n, row.raw[v.RAW_BOOT])
        recorder.tick_data(tick_of(row, scales))
    return recorder.end(dropped)
