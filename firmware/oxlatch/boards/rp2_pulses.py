"""Engine speed from ignition pulses, timed by a state machine of the chip's input block: no interrupt is used.

It counts microseconds between rising edges and leaves them in a queue that the loop empties once a tick.
"""

import rp2

from oxlatch.vocabulary import RAW_PULSE_AGE_MS, RAW_RPM

CLOCK_MASK = 0x3FFFFFFF
NO_PULSE_MS = 10000
FIRST_PULSE_MS = 1000  # after this long without one, the next pulse only starts a new interval
PULSE_MASK = 0xFFFFFF
RPM_MAX = 0xFFFF
COUNT_HZ = 2_000_000  # two cycles a count


@rp2.asm_pio()
def _pulse_interval():
    # x counts down once per two cycles: while the pin is high, then while it is low, to the next rising edge.
    wrap_target()  # noqa: F821
    mov(x, invert(null))  # noqa: F821
    label("high")  # noqa: F821
    jmp(x_dec, "still_high")  # noqa: F821
    label("still_high")  # noqa: F821
    jmp(pin, "high")  # noqa: F821
    label("low")  # noqa: F821
    jmp(pin, "edge")  # noqa: F821
    jmp(x_dec, "low")  # noqa: F821
    label("edge")  # noqa: F821
    in_(x, 24)  # noqa: F821  # 24 bits, so that the loop never sees a number that needs the heap
    push(noblock)  # noqa: F821
    wrap()  # noqa: F821


class PulseTimer:
    """Fills in engine speed and pulse age. Everything is made before the heap is locked."""

    def __init__(self, pulse_pin, pulses_per_turn):
        self._pulses_per_turn = pulses_per_turn
        self._timer = rp2.StateMachine(0, _pulse_interval, freq=COUNT_HZ, jmp_pin=pulse_pin)
        self._timer.active(1)
        self._pulse_us = 0
        self._age_ms = NO_PULSE_MS
        self._rpm = 0

    def sample(self, raw, now_us):
        """Empty the queue; speed from the last interval, age by the loop's clock, saturating at ten seconds."""
        timer = self._timer
        while timer.rx_fifo():
            interval_us = PULSE_MASK - timer.get() & PULSE_MASK
            if self._age_ms < FIRST_PULSE_MS and interval_us > 0:
                self._rpm = 60_000_000 // (interval_us * self._pulses_per_turn)
            else:
                self._rpm = 0
            self._pulse_us = now_us
            self._age_ms = 0
        if self._age_ms < NO_PULSE_MS:
            self._age_ms = ((now_us - self._pulse_us) & CLOCK_MASK) // 1000
            if self._age_ms > NO_PULSE_MS:
                self._age_ms = NO_PULSE_MS
        raw[RAW_RPM] = self._rpm if self._rpm < RPM_MAX else RPM_MAX
        raw[RAW_PULSE_AGE_MS] = self._age_ms
