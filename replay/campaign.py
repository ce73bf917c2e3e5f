"""A campaign: the sorties planned in a folder, the runs of each, and which later sortie takes what a run has left.

Plans are the TOML files with a table `[sortie]`. Plans with the same sortie id are plans of one sortie. A run belongs to the
sortie of its plan. A later sortie takes a task that was left when its plan has a task of the same id and title.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from dashboard.core.base.problems import InputError
from dashboard.core.debrief.carry_over import carry_over
from dashboard.core.debrief.facts import LeftTask
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.log.limits import PLAN_FILE_MB
from dashboard.log.planfile import WHAT, examine_plan, read_toml
from dashboard.log.textfile import read_text, refusal
from replay.independent_runs import independent_runs
from replay.library import BrokenRun, Named, find_logs, load_all
from replay.recording import RecordedRun


@dataclass(frozen=True)
class PlannedSortie:
    """One sortie of the campaign.

    Parameters
    ----------
    sortie, title, date : str
        `date` is the day of the planned start.
    files : tuple of str
        The plan files, relative to the folder, in the order of their paths.
    plans : int
        How many of them differ in more than their comments.
    tasks : int
        Tasks of the first plan, those of contingencies left out.
    runs, rehearsals : tuple of str
        Names of its runs.
    """

    sortie: str
    title: str
    date: str
    files: tuple[str, ...]
    plans: int
    tasks: int
    runs: tuple[str, ...]
    rehearsals: tuple[str, ...]


@dataclass(frozen=True)
class CarriedTask:
    """A task that a run has left, and the sortie that takes it (None: none of the later plans has it)."""

    run: str
    sortie: str
    task: str
    title: str
    because: str
    remaining_min: float
    taken_by: str | None


@dataclass(frozen=True)
class UnusedFile:
    """A plan or a log that cannot be used, and why."""

    name: str
    why: str


@dataclass(frozen=True)
class Campaign:
    """The sorties in the order of their planned start, what their runs have left, and the files that cannot be used."""

    sorties: tuple[PlannedSortie, ...]
    carried: tuple[CarriedTask, ...]
    unused: tuple[UnusedFile, ...]


def read_campaign(folder: Path) -> Campaign:
    """Read the campaign in a folder.

    Parameters
    ----------
    folder : Path
        It and all folders below are searched.

    Returns
    -------
    Campaign

    Raises
    ------
    InputError
        When the folder does not exist, or holds neither a plan nor a run.
    """
    if not folder.is_dir():
        found = "a file" if folder.exists() else "no such folder"
        raise refusal(folder, "a folder with plans and recorded runs", found, "Name the folder that holds them.")
    plans, unused = _plans(folder)
    runs = _runs(folder)
    if not plans and not runs and not unused:
        cure = "Name the folder that holds them; a plan is a TOML file with a table [sortie]."
        raise refusal(folder, "a folder with plans and recorded runs", "neither a plan nor a run", cure)
    unused += [UnusedFile(name, run.why) for name, run in runs if isinstance(run, BrokenRun)]
    good = [(name, run) for name, run in runs if isinstance(run, RecordedRun)]
    counted = {name for name, _ in independent_runs(runs).runs}
    by_start = [plan for _, plan in sorted(plans, key=lambda pair: pair[1].sortie.start)]
    carried = [one for name, run in good if name in counted for one in _carried(name, run, by_start)]
    return Campaign(tuple(_sorties(plans, good)), tuple(carried), tuple(unused))


def plan_files(folder: Path) -> dict[str, Path]:
    """Find the files of a folder that may be plans.

    Parameters
    ----------
    folder
        It and all folders below are searched.

    Returns
    -------
    dict
        Each file by its name relative to the folder, in the order of the names.
    """
    return {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*.toml"))}


def _plans(folder: Path) -> tuple[list[tuple[str, Plan]], list[UnusedFile]]:
    plans, unused = [], []
    for name, path in plan_files(folder).items():
        try:
            if "sortie" not in read_toml(read_text(path, WHAT, PLAN_FILE_MB), path):
                continue  # the header of a run, or another program's file
        except InputError as wrong:
            unused.append(UnusedFile(name, wrong.problems[0].text()))
            continue
        plan, problems = examine_plan(path)
        if plan is None:
            unused.append(UnusedFile(name, next(p.text() for p in problems if p.severity == "error")))
        else:
            plans.append((name, plan))
    return plans, unused


def _runs(folder: Path) -> list[Named]:
    try:
        find_logs(folder)
    except InputError:
        return []  # a campaign of which nothing was run yet
    return list(load_all(folder))


def _sorties(plans: Sequence[tuple[str, Plan]], runs: Sequence[tuple[str, RecordedRun]]) -> list[PlannedSortie]:
    found = []
    for sortie in dict.fromkeys(plan.sortie.id for _, plan in sorted(plans, key=lambda pair: pair[1].sortie.start)):
        own = [(name, plan) for name, plan in plans if plan.sortie.id == sortie]
        first = own[0][1]
        ran = [(name, run) for name, run in runs if run.plan.sortie.id == sortie]
        found.append(
            PlannedSortie(
                sortie=sortie,
                title=first.sortie.title,
                date=first.sortie.start.date().isoformat(),
                files=tuple(name for name, _ in own),
                plans=len({plan.model_dump_json() for _, plan in own}),
                tasks=len(first.tasks),
                runs=tuple(name for name, run in ran if not run.parent),
                rehearsals=tuple(name for name, run in ran if run.parent),
            )
        )
    return found


def _carried(name: str, run: RecordedRun, plans: Sequence[Plan]) -> Iterable[CarriedTask]:
    later = [plan for plan in plans if plan.sortie.id != run.plan.sortie.id and plan.sortie.start > run.plan.sortie.start]
    for left in carry_over(reconcile(run.plan, run.events, run.last)):
        taken = next((plan.sortie.id for plan in later if _has(plan, left)), None)
        yield CarriedTask(name, run.plan.sortie.id, left.task, left.title, left.because, left.remaining_min, taken)


def _has(plan: Plan, left: LeftTask) -> bool:
    return any(task.id == left.task and task.title == left.title for task in plan.tasks)
