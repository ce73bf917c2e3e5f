"""What a folder of plans and runs holds, briefs of its plans and debriefs of its runs, computed on request beside the cycle.

The list is computed anew only when a file of the folder has changed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError
from dashboard.core.debrief.compare import beside_the_brief, called, side_by_side
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.log.planfile import examine_plan
from dashboard.service.beside.worker import Job, Note
from dashboard.service.desk import Desk
from dashboard.service.version import program_version
from replay.campaign import Campaign, plan_files, read_campaign
from replay.library import load_all
from replay.recording import RecordedRun

PATIENCE_S = 0.5
BACK = (("/runs", "All plans and runs"), ("/", "The board"))


class RunList(NamedTuple):
    """The runs of a folder as rows of `replay.listing`, and its campaign."""

    rows: list[dict[str, Any]]
    campaign: Campaign


class NoSuchRun(Exception):
    """The folder has no run, or no plan, of this name that can be read."""


class RunLists:
    """The list of one folder, computed one at a time.

    Parameters
    ----------
    desk : Desk
        Its process for reports does the work.
    folder : Path
    """

    def __init__(self, desk: Desk, folder: Path) -> None:
        self._desk, self._folder = desk, folder
        self._kept: tuple[tuple[Any, ...], RunList] | None = None
        self._making: asyncio.Task[RunList] | None = None
        self._one_at_a_time = asyncio.Lock()

    @property
    def name(self) -> str:
        """Name of the folder."""
        return self._folder.resolve().name

    async def soon(self) -> RunList | None:
        """The list of the folder as it is now, within `PATIENCE_S`.

        Returns
        -------
        RunList or None
            None: it is still being computed; ask again.
        """
        stamp = await asyncio.to_thread(_stamp, self._folder)
        if self._kept is not None and self._kept[0] == stamp:
            return self._kept[1]
        if self._making is None or self._making.done():
            self._making = asyncio.create_task(self._make(stamp))
        done, _ = await asyncio.wait({self._making}, timeout=PATIENCE_S)
        return self._making.result() if done else None

    async def page(self, first: str, second: str | None) -> str:
        """The page of one run, or of two runs side by side.

        Parameters
        ----------
        first : str
            Name of a run.
        second : str or None
            Name of another run; empty: the brief of the first is set beside it. None: the debrief of the first alone.

        Returns
        -------
        str
            HTML.

        Raises
        ------
        NoSuchRun
            When the folder has no such run.
        """
        async with self._one_at_a_time:
            made: str | None = await asyncio.to_thread(self._work, page_job, first, second)
        if made is None:
            raise NoSuchRun
        return made

    async def brief(self, plan: str) -> str:
        """The brief of a plan.

        Parameters
        ----------
        plan : str
            Name of its file, relative to the folder.

        Returns
        -------
        str
            HTML.

        Raises
        ------
        NoSuchRun
            When the folder has no such plan.
        """
        async with self._one_at_a_time:
            made: str | None = await asyncio.to_thread(self._work, brief_job, plan)
        if made is None:
            raise NoSuchRun
        return made

    async def _make(self, stamp: tuple[Any, ...]) -> RunList:
        async with self._one_at_a_time:
            found: RunList = await asyncio.to_thread(self._work, list_job)
        self._kept = (stamp, found)
        return found

    def _work(self, job: Job, *given: Any) -> Any:
        return self._desk.reports.work(job, [], self._folder, *given)


def list_job(plan: Plan, events: Sequence[Event], note: Note, folder: Path) -> RunList:
    """Read a folder.

    Parameters
    ----------
    plan, events, note
        Not used; every job takes them.
    folder
        With plans and runs.

    Returns
    -------
    RunList
        Without rows when there is no run.
    """
    from replay.listing import listing  # loads pandas, which the server itself does not need
    from replay.score import json_rows

    try:
        rows = json_rows(listing(folder))
    except InputError:
        rows = []
    try:
        return RunList(rows, read_campaign(folder))
    except InputError:
        return RunList(rows, Campaign((), (), ()))


def page_job(plan: Plan, events: Sequence[Event], note: Note, folder: Path, first: str, second: str | None) -> str | None:
    """Write the page of one run, or of two side by side.

    Parameters
    ----------
    plan, events, note
        Not used; every job takes them.
    folder
        With the runs.
    first, second
        As in `RunLists.page`.

    Returns
    -------
    str or None
        HTML; None when the folder has no such run that can be read.
    """
    from dashboard.reports.comparison_document import comparison_document
    from dashboard.reports.debrief_document import debrief_document
    from dashboard.reports.html import html

    wanted = {name for name in (first, second) if name}
    runs = {name: run for name, run in _runs(folder) if name in wanted and isinstance(run, RecordedRun)}
    if wanted - runs.keys():
        return None
    made_at, version = datetime.now(UTC), program_version()
    if second is None:
        return html(debrief_document(_facts(runs[first]), made_at, version), BACK)
    found = {name: _facts(runs[name], draws=0) for name in (first, second) if name}
    facts = [(called(name, run), run) for name, run in found.items()]
    compared = side_by_side(*facts[0], *facts[1]) if len(facts) == 2 else beside_the_brief(*facts[0])
    return html(comparison_document(compared, facts, made_at, version), BACK)


def brief_job(plan: Plan, events: Sequence[Event], note: Note, folder: Path, name: str) -> str | None:
    """Write the brief of a plan of the folder as a page.

    Parameters
    ----------
    plan, events, note
        Not used; every job takes them.
    folder
        With the plans.
    name
        As in `RunLists.brief`.

    Returns
    -------
    str or None
        HTML; None when the folder has no such plan that can be followed.
    """
    from dashboard.core.brief.look_ahead import brief
    from dashboard.reports.brief_document import brief_document
    from dashboard.reports.html import html

    path = plan_files(folder).get(name)
    wanted = examine_plan(path)[0] if path is not None else None
    if wanted is None:
        return None
    return html(brief_document(brief(wanted), datetime.now(UTC), program_version()), BACK)


def _runs(folder: Path) -> list[tuple[str, Any]]:
    try:
        return list(load_all(folder))
    except InputError:
        return []


def _facts(run: RecordedRun, **options: Any) -> Debrief:
    unread = [line for _, line in run.unread]
    return debrief(run.plan, run.events, run.last, unread=unread, rehearsal=run.rehearsal, setting=run.setting, **options)


def _stamp(folder: Path) -> tuple[Any, ...]:
    """What changes when a plan or a run of the folder does."""
    found = []
    for path in sorted(folder.rglob("*")):
        if path.suffix in (".toml", ".jsonl"):
            try:
                stat = path.stat()
            except OSError:
                continue
            found.append((str(path), stat.st_mtime_ns, stat.st_size))
    return tuple(found)
