"""Hardware modules of the real board, and calls a browser's MicroPython has not, as empty as can be: their heap counts
before the firmware's."""

import gc  # noqa: F401  # for the steps that follow
import sys

sys.path.insert(0, "/")


class Module:
    pass


class Pin:
    IN, OUT, PULL_UP, PULL_DOWN = 0, 1, 2, 3

    def __init__(self, gpio, mode=None, pull=None, value=None):
        pass

    def value(self, level=1):
        return 1


class Nothing:
    def __init__(self, *args, **kwargs):
        pass

    def write_readinto(self, out, into):
        into[0] = 0

    def rx_fifo(self):
        return 0

    def active(self, on):
        pass

    def feed(self):
        pass

    def register(self, stream, flags):
        pass

    def ipoll(self, wait_ms):
        return ()


def asm_pio():
    return lambda program: program


def module(name, **made):
    stand_in = Module()
    for key in made:
        setattr(stand_in, key, made[key])
    sys.modules[name] = stand_in
    return stand_in


def taken_over(name, **made):
    real = __import__(name)
    module(name, **{key: getattr(real, key) for key in dir(real) if key[0] != "_"})
    for key in made:
        setattr(sys.modules[name], key, made[key])


module("machine", Pin=Pin, SPI=Nothing, WDT=Nothing, mem32={0x40058008: 0, 0x4005801C: 0})
module("rp2", StateMachine=Nothing, asm_pio=asm_pio)
module("select", poll=Nothing, POLLIN=1, POLLOUT=4)
taken_over("os", getenv=lambda name: None)
taken_over("micropython", kbd_intr=lambda key: None)
