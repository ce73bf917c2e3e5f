"""What the processes of the server have in common."""

from __future__ import annotations

import subprocess
import sys

import pytest

from dashboard.service.processes import common, start_early
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
