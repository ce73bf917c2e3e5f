"""Work that is interrupted when it takes too long."""

from __future__ import annotations

import threading

import pytest

from dashboard.service.limited import Overran, limited
from tests.waiting import until

NEVER_S = 3600.0


def for_ever() -> None:
    while True:
        pass


def test_a_loop_without_an_end_is_interrupted():
    """On the thread that runs it, whichever that is."""
    with pytest.raises(Overran):
        limited(for_ever, 0.05)
    ended: list[str] = []

    def work() -> None:
        try:
            limited(for_ever, 0.05)
        except Overran:
            ended.append("interrupted")

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(60)
    assert ended == ["interrupted"]


def test_work_that_is_done_in_time_gives_its_result_and_leaves_nothing_behind():
    """Neither an interrupt for what follows nor a thread that waits."""
    assert limited(lambda: 7, NEVER_S) == 7
    until(lambda: not any(isinstance(one, threading.Timer) for one in threading.enumerate()), "the timer being gone")


def test_a_failure_of_the_work_is_its_own():
    """It is not taken for an interrupt."""
    with pytest.raises(ValueError, match="a gap"):
        limited(lambda: int("a gap"), NEVER_S)
