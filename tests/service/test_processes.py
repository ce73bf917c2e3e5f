"""What the processes of the server have in common."""

from __future__ import annotations

import gc
import subprocess
import sys

import pytest

from dashboard.service.processes import GARBAGE_THRESHOLDS, collect_garbage_less_often, common, start_early
from tests.scenario import log_of

LOG = log_of("0:00 clock\n0:01 note text=x\n0:02 note text=y")


@pytest.mark.parametrize(
    ("sent", "count"), [([], 0), (LOG[:2], 2), (LOG, 3), ([LOG[0], LOG[2]], 1), ([LOG[1]], 0), ([*LOG, LOG[0]], 3)]
)
def test_events_that_a_process_has_are_not_sent_again(sent: list, count: int):
    """From the first on, up to the first that it does not have; a copy of an event is the same event."""
    assert common(LOG, sent) == count
    assert common(LOG, [event.model_copy() for event in sent]) == count


def test_the_server_of_processes_is_started_early_once():
    """A second time does nothing."""
    from multiprocessing import forkserver

    start_early()
    started = forkserver._forkserver._forkserver_pid
    start_early()
    assert started is not None and forkserver._forkserver._forkserver_pid == started


def test_starting_early_loads_nothing_of_the_program():
    """It is the first thing that a command does: what it loads would hold the command up."""
    found = "import sys, dashboard.service.processes; print([m for m in sys.modules if m in ('pydantic', 'dash', 'numpy')])"
    told = subprocess.run([sys.executable, "-c", found], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_a_server_loads_no_solver():
    """Another process of it works advice out, and the solver would hold up the first state."""
    found = "import sys, dashboard.cli.serve; print([m for m in sys.modules if m in ('ortools', 'pandas')])"
    told = subprocess.run([sys.executable, "-c", found], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_garbage_is_looked_for_less_often():
    """By far, but still."""
    found, before = gc.get_threshold(), (700, 10, 10)  # those of a new process: a test before may have set others
    gc.set_threshold(*before)
    try:
        collect_garbage_less_often()
        assert gc.get_threshold() == GARBAGE_THRESHOLDS and gc.get_threshold()[0] > 10 * before[0] and gc.isenabled()
    finally:
        gc.set_threshold(*found)
