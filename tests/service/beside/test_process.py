"""Work in a process of its own: what it gets, what becomes of failures, and how it is stopped."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator

import pytest

from dashboard.core.plan.model import Plan
from dashboard.service.beside.process import Beside, Here, WorkFailed, WorkOverran, WorkStopped
from tests.scenario import log_of
from tests.service.beside import jobs
from tests.waiting import DEADLINE_S

LOG = log_of("0:00 clock\n0:01 note text=x\n0:02 note text=y")


@pytest.fixture
def beside(plan: Plan) -> Iterator[Beside]:
    made = Beside(plan, "work")
    yield made
    made.close()


def test_a_job_gets_the_plan_the_events_and_what_was_given(beside: Beside, plan: Plan):
    """In another process, the same one each time, and its progress is told."""
    noted = []
    name, events, given, process = beside.work(jobs.told, LOG[:2], "a", 1, note=lambda *said: noted.append(said))
    assert (name, events, given, noted) == (plan.sortie.id, ["e1", "e2"], ("a", 1), [("looking", 1, 2)])
    assert process != os.getpid()
    assert beside.work(jobs.told, LOG) == (plan.sortie.id, ["e1", "e2", "e3"], (), process)
    assert beside.work(jobs.told, LOG[1:])[1] == ["e2", "e3"]


def test_a_failure_is_said_and_the_next_job_is_done(beside: Beside):
    """An exception, and the end of the process."""
    with pytest.raises(WorkFailed, match=r"^ValueError: a gap$") as failed:
        beside.work(jobs.broken, LOG)
    assert "in broken" in failed.value.trace
    with pytest.raises(WorkFailed, match=r"exit code 3"):
        beside.work(jobs.gone, LOG)
    assert beside.work(jobs.told, LOG)[1] == ["e1", "e2", "e3"]


def test_a_job_that_asks_ends_when_it_is_not_wanted_and_its_process_stays(beside: Beside):
    """The next job is done by the same process."""
    begun, processes = threading.Event(), []

    def hear(process: int) -> None:
        processes.append(process)
        begun.set()

    with pytest.raises(WorkStopped):
        beside.work(jobs.attentive, LOG, unwanted=begun.is_set, note=hear)
    assert beside.work(jobs.told, LOG)[3] == processes[0]


def test_what_is_not_wanted_any_more_is_stopped(beside: Beside):
    """In the middle of it; its process ends."""
    begun = threading.Event()
    with pytest.raises(WorkStopped):
        beside.work(jobs.endless, LOG, unwanted=begun.is_set, note=lambda *said: begun.set())
    assert beside.work(jobs.told, LOG)[1] == ["e1", "e2", "e3"]


def test_closing_stops_what_is_being_done(beside: Beside):
    """And nothing is begun afterwards."""
    begun, stopped = threading.Event(), threading.Event()

    def work() -> None:
        with pytest.raises(WorkStopped):
            beside.work(jobs.endless, LOG, note=lambda *said: begun.set())
        stopped.set()

    threading.Thread(target=work, daemon=True).start()
    assert begun.wait(DEADLINE_S)
    beside.close()
    assert stopped.wait(DEADLINE_S)
    with pytest.raises(WorkStopped):
        beside.work(jobs.told, LOG)


def test_what_takes_too_long_is_stopped(beside: Beside):
    """Its process ends, and the next job is done."""
    with pytest.raises(WorkOverran):
        beside.work(jobs.endless, LOG, longest_s=0.3)
    assert beside.work(jobs.told, LOG)[1] == ["e1", "e2", "e3"]


def test_the_wait_for_an_earlier_job_counts(beside: Beside):
    """Whoever waits behind a long job is told in time too, and the long job goes on."""
    begun, goes_on = threading.Event(), threading.Event()

    def work() -> None:
        with pytest.raises(WorkStopped):
            beside.work(jobs.endless, LOG, note=lambda *said: begun.set(), unwanted=goes_on.is_set)

    other = threading.Thread(target=work, daemon=True)
    other.start()
    assert begun.wait(DEADLINE_S)
    with pytest.raises(WorkOverran):
        beside.work(jobs.told, LOG, longest_s=0.05)
    assert other.is_alive()
    goes_on.set()
    other.join(DEADLINE_S)
    assert not other.is_alive()


def test_a_job_can_be_done_in_this_process_too(plan: Plan):
    """With the same result, its own failures, and the same limit."""
    here = Here(plan)
    assert here.work(jobs.told, LOG[:1], "a") == (plan.sortie.id, ["e1"], ("a",), os.getpid())
    with pytest.raises(ValueError, match="a gap"):
        here.work(jobs.broken, LOG)
    with pytest.raises(WorkOverran):
        here.work(jobs.endless, LOG, longest_s=0.1)
