"""The brief of a desk's plan, computed once on request, and the step of it that the presenter shows.

The plan of a desk never changes, so neither does its brief. Facts and papers are made where the desk makes its reports.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from dashboard.core.brief.facts import Brief
from dashboard.core.brief.look_ahead import brief
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.service.beside.worker import Job, Note
from dashboard.service.desk import Desk
from dashboard.service.version import program_version

Paper = Literal["brief", "cuff"]


class Briefs:
    """Makes the brief of a desk's plan, and keeps it.

    Parameters
    ----------
    desk
        Whose plan it is.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._facts: Brief | None = None
        self._papers: dict[Paper, bytes] = {}

    async def facts(self) -> Brief:
        """The brief.

        Returns
        -------
        Brief
        """
        async with self._one_at_a_time:
            if self._facts is not None:
                return self._facts
            made: Brief = await asyncio.to_thread(self._made, facts_job)
            self._facts = made
            return made

    async def paper(self, which: Paper) -> bytes:
        """The printed brief, or the cuff pages.

        Parameters
        ----------
        which
            ``brief`` or ``cuff``.

        Returns
        -------
        bytes
            A PDF file.
        """
        facts = await self.facts()
        async with self._one_at_a_time:
            if which not in self._papers:
                self._papers[which] = await asyncio.to_thread(self._made, paper_job, facts, datetime.now(UTC), which)
            return self._papers[which]

    def _made(self, job: Job, *given: Any) -> Any:
        return self._desk.reports.work(job, [], *given)


def facts_job(plan: Plan, events: Sequence[Event], note: Note) -> Brief:
    """Compute the brief.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Not used.
    note
        Not used: it takes no time.

    Returns
    -------
    Brief
    """
    return brief(plan)


def paper_job(plan: Plan, events: Sequence[Event], note: Note, facts: Brief, made_at: datetime, which: Paper) -> bytes:
    """Write the brief, or the cuff pages, as PDF.

    Parameters
    ----------
    plan
        Not used: the facts say it all.
    events
        Not used.
    note
        Not used.
    facts
        What the document says.
    made_at
        When it is made.
    which
        ``brief`` or ``cuff``.

    Returns
    -------
    bytes
        The file.
    """
    from dashboard.reports.brief_document import brief_document, cuff_document
    from dashboard.reports.pdf import pdf

    return pdf((brief_document if which == "brief" else cuff_document)(facts, made_at, program_version()))


@dataclass(frozen=True)
class Shown:
    """What the presenter shows.

    Parameters
    ----------
    step : int or None
        Number of the step; None: nobody presents.
    in_time : bool
        Whether all steps that begin together are shown together.
    by : str
        Name of the presenter; empty: not known.
    """

    step: int | None = None
    in_time: bool = False
    by: str = ""


class Presenting:
    """The step that the presenter shows. Whoever follows along is woken when it changes. For one event loop."""

    def __init__(self) -> None:
        self.shown = Shown()
        self._woken: set[Callable[[], None]] = set()

    def show(self, shown: Shown) -> None:
        """Show another step. Of two presenters the later one counts.

        Parameters
        ----------
        shown
            What is shown from now on.
        """
        self.shown = shown
        for wake in list(self._woken):
            wake()

    def subscribe(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Be woken at each change.

        Parameters
        ----------
        wake
            Called without arguments after each change.

        Returns
        -------
        callable
            Ends it.
        """
        self._woken.add(wake)
        return lambda: self._woken.discard(wake)
