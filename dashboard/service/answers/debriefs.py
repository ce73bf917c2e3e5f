"""The facts of the debrief of a desk, computed on request, on another thread than the event loop.

A page gets an answer soon, however long the sortie is. While the facts are computed the answer is the progress. The page asks
again, and then gets the facts that it waited for, even if the sortie has gone on meanwhile. Facts and documents are made in the
process of the desk's reports, where it has one.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from dashboard.core.base.findings import Unread
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.service.beside.worker import Note
from dashboard.service.desk import Desk
from dashboard.service.version import program_version

PATIENCE_S = 0.5
STILL_WANTED = timedelta(seconds=10)


class Made(NamedTuple):
    """The facts of one state of the desk.

    Parameters
    ----------
    key : tuple
        Identifies the state: number of events, whole minutes of PET, and mode with number of unread lines.
    facts : Debrief
        The facts.
    made_at : datetime
        When they were complete (UTC).
    """

    key: tuple[int, int, str]
    facts: Debrief
    made_at: datetime


class Progress(NamedTuple):
    """Progress of the computation.

    Parameters
    ----------
    what : str
        ``decisions`` or ``projections``, whichever is being followed; empty: it has not begun.
    done : int
        How many instants are done.
    of : int
        How many instants there are.
    """

    what: str
    done: int
    of: int


NOT_BEGUN = Progress("", 0, 1)


class Debriefs:
    """Computes the facts of a desk, one set at a time: at most once per minute of the sortie and per change of its log."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._kept: Made | None = None
        self._awaited: asyncio.Task[Made] | None = None
        self._progress = NOT_BEGUN

    async def newest(self, state: SortieState) -> Made:
        """The facts of a state.

        Parameters
        ----------
        state
            A state of the desk.

        Returns
        -------
        Made
            The facts of this state, or of an earlier one with the same minute and log.
        """
        return await self._make(state)

    async def soon(self, state: SortieState) -> Made | None:
        """The facts that a page waits for, within `PATIENCE_S`.

        Parameters
        ----------
        state
            The state to compute, unless facts that a page already waits for are being computed.

        Returns
        -------
        Made or None
            None: they are still being computed; ask again.
        """
        waited_for = self._awaited
        if waited_for is not None and waited_for.done() and not _still_wanted(waited_for):
            waited_for = None
        task = self._awaited = waited_for or asyncio.create_task(self._make(state))
        done, _ = await asyncio.wait({task}, timeout=PATIENCE_S)
        if not done:
            return None
        if self._awaited is task:
            self._awaited = None
        return task.result()

    @property
    def progress(self) -> Progress:
        """Progress of the facts that are being computed."""
        return self._progress

    async def _make(self, state: SortieState) -> Made:
        async with self._one_at_a_time:
            return await asyncio.to_thread(self._facts, state)

    def _note(self, what: str, done: int, of: int) -> None:
        self._progress = Progress(what, done, of)

    def _facts(self, state: SortieState) -> Made:
        key = (state.basis.events, int(state.pet_min // 1), f"{state.mode} {len(state.unread)}")
        if self._kept is None or self._kept.key != key:
            known = self._desk.known_at(state.now)
            self._progress = NOT_BEGUN
            given = (state.now, known.unread, self._desk.session.rehearsal)
            facts = self._desk.reports.work(facts_job, known.events, *given, note=self._note)
            self._kept = Made(key, facts, datetime.now(UTC))
        return self._kept


def facts_job(
    plan: Plan, events: Sequence[Event], note: Note, now: datetime, unread: Sequence[Unread], rehearsal: str
) -> Debrief:
    """Work out the facts at an instant.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        All that the room has.
    note
        Told the progress.
    now
        The instant.
    unread
        Lines that were not understood.
    rehearsal
        What is rehearsed; empty when it is no rehearsal.

    Returns
    -------
    Debrief
        The facts.
    """
    return debrief(plan, events, now, unread=unread, rehearsal=rehearsal, progress=note)


def paper(desk: Desk, made: Made) -> bytes:
    """Write the debrief as PDF, beside the cycle where the desk has a process for reports.

    Parameters
    ----------
    desk
        Whose debrief it is.
    made
        The facts, and when they were worked out.

    Returns
    -------
    bytes
        The file.
    """
    content: bytes = desk.reports.work(paper_job, [], made.facts, made.made_at)
    return content


def book(desk: Desk, made: Made) -> bytes:
    """Write the debrief as a workbook of tables, beside the cycle where the desk has a process for reports.

    Parameters
    ----------
    desk
        Whose debrief it is.
    made
        The facts, and when they were worked out.

    Returns
    -------
    bytes
        The file (XLSX).
    """
    content: bytes = desk.reports.work(book_job, [], made.facts, made.made_at)
    return content


def paper_job(plan: Plan, events: Sequence[Event], note: Note, facts: Debrief, made_at: datetime) -> bytes:
    """Write the facts as PDF.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Not used.
    note
        Told the progress.
    facts
        What the document says.
    made_at
        When they were worked out.

    Returns
    -------
    bytes
        The file.
    """
    from dashboard.reports.debrief_document import debrief_document
    from dashboard.reports.pdf import pdf

    return pdf(debrief_document(facts, made_at, program_version()))


def book_job(plan: Plan, events: Sequence[Event], note: Note, facts: Debrief, made_at: datetime) -> bytes:
    """Write the facts as a workbook.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Not used.
    note
        Told the progress.
    facts
        What the tables say.
    made_at
        When they were worked out.

    Returns
    -------
    bytes
        The file (XLSX).
    """
    from dashboard.reports.tables import xlsx

    return xlsx(facts, made_at, program_version())


def _still_wanted(task: asyncio.Task[Made]) -> bool:
    """Whether finished facts are new enough for the page that waits for them. Failed or cancelled work is never used."""
    if task.cancelled() or task.exception() is not None:
        return False
    return datetime.now(UTC) - task.result().made_at < STILL_WANTED
