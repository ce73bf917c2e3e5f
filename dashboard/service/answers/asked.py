"""Has answers to people worked out in the process beside, within a limit of time."""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Any

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.beside.process import WorkFailed, WorkOverran, WorkStopped
from dashboard.service.beside.worker import Job
from dashboard.service.desk import Desk

LONGEST_ANSWER_S = 30.0

log = logging.getLogger("tetherline")


def answer_of(desk: Desk, what: str, job: Job, now: datetime, *given: Any) -> Any:
    """Have an answer worked out on the events of an instant.

    Parameters
    ----------
    desk
        Its plan, its events and its process are used.
    what
        What is asked for, for the error.
    job
        Works the answer out: a function of a module, as for `Beside.work`.
    now
        The instant.
    given
        What else the job gets.

    Returns
    -------
    object
        What the job returned.

    Raises
    ------
    InputError
        When the answer took longer than `LONGEST_ANSWER_S` or failed, or when the server stops; or when the store cannot be
        read.
    """
    events = desk.known_at(now).events
    try:
        return desk.answers.work(job, events, *given, longest_s=LONGEST_ANSWER_S)
    except WorkOverran:
        found = "none by then"
        cure = "The board goes on without it. Ask again later: other questions may have come first, or the computer is busy."
    except WorkStopped:
        found, cure = "a server that stops", "Ask again once it runs."
    except WorkFailed as wrong:
        log.exception("An answer could not be worked out: %s. %s", what, wrong.trace)
        found, cure = str(wrong), "Nothing was lost; please report it."
    raise InputError([Problem(what, f"an answer within {LONGEST_ANSWER_S:g} s", found, cure)])
