"""Work begun ahead: its answer, its error, its end."""

import os
import time

import pytest

from oxlatch_tools.ahead import Ahead


def slow_sum(a, b):
    time.sleep(0.05)
    return a + b


def refuse():
    raise ValueError("no")


def test_the_answer_comes_from_another_process():
    with Ahead(os.getpid) as first, Ahead(slow_sum, 2, 3) as second:
        assert first.answer() != os.getpid()
        assert second.answer() == 5


def test_the_error_of_the_work_is_the_callers():
    with Ahead(refuse) as work, pytest.raises(ValueError, match="no"):
        work.answer()


def test_a_process_that_dies_is_an_error():
    with Ahead(os._exit, 3) as work, pytest.raises(EOFError):
        work.answer()


def test_work_that_nobody_waits_for_is_ended():
    began = time.monotonic()
    with Ahead(time.sleep, 60):
        pass
    assert time.monotonic() - began < 10
