"""The list of a library: one row per recorded run, with how it went."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.core.base.times import minutes_between
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.ahead import lane_standing
from dashboard.core.state.follow import follow
from replay.independent_runs import independent_runs
from replay.library import BrokenRun, load_all
from replay.recording import RecordedRun

COLUMNS = (
    "name",
    "setting",
    "date",
    "sortie",
    "events",
    "unread",
    "length_min",
    "worst_behind_min",
    "pet_zero_doubt",
    "ended",
    "mark",
    "strange",
    "why",
)
MOST_INSTANTS = 120


def listing(root: Path) -> pd.DataFrame:
    """List the runs of a library.

    Parameters
    ----------
    root : Path
        A folder, or one log.

    Returns
    -------
    DataFrame
        One row per run, with the columns of `COLUMNS`. Among them:

        - `length_min`: from PET zero to the `end` event, or to the last event if there is none;
        - `worst_behind_min`: the most that any crew lane was behind at any moment of the log, as known then (0: never
          behind; missing: not known);
        - `pet_zero_doubt`: why PET zero is not known at the end of the log; empty: it is known. Without PET zero
          `worst_behind_min` is not known either;
        - `mark`: why scores and learning leave the run out; empty: they do not;
        - `strange`: a warning if the log belongs to another plan; the figures are then meaningless;
        - `why`: why the run cannot be read; empty: it can.

    Raises
    ------
    InputError
        When there is no run.
    """
    runs = list(load_all(root))
    marks = {one.name: f"{one.what}, {one.why}" for one in independent_runs(runs).left_out}
    rows = [
        {"name": name, "mark": marks.get(name, ""), **({"why": run.why} if isinstance(run, BrokenRun) else _facts(run))}
        for name, run in runs
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _facts(run: RecordedRun) -> dict[str, Any]:
    last = follow(run.plan, run.events, run.last, draws=0)
    doubt = last.basis.pet_zero_doubt
    closed = None if doubt else last.end.closed_pet_min
    return {
        "setting": run.setting or "not said",
        "date": run.date,
        "sortie": run.plan.sortie.id,
        "events": len(run.events),
        "unread": len(run.unread),
        "length_min": closed if closed is not None else minutes_between(run.pet_zero, run.last),
        "worst_behind_min": None if doubt else worst_behind(run),
        "pet_zero_doubt": doubt or "",
        "ended": last.ended,
        "strange": run.strange.text() if run.strange else "",
        "why": "",
    }


def worst_behind(run: RecordedRun) -> float | None:
    """The most that a crew lane was behind.

    It is computed at up to `MOST_INSTANTS` moments of the log. Moments at which PET zero was in doubt do not count.

    Parameters
    ----------
    run : RecordedRun

    Returns
    -------
    float or None
        Minutes; None when it was never known.
    """
    marks = run.marks
    step = max(1, -(-len(marks) // MOST_INSTANTS))
    records = (reconcile(run.plan, run.known_at(mark), mark) for mark in sorted({*marks[::step], *marks[-1:]}))
    behind = [
        -ahead
        for record in records if record.pet_zero_doubt is None
        for lane in run.plan.crew_lane_ids()
        if (ahead := _ahead_min(record, lane)) is not None
    ]
    return max(0.0, *behind) if behind else None


def _ahead_min(record: Record, lane: str) -> float | None:
    return lane_standing(record, lane, [record.runs[t] for t in record.order if lane in record.runs[t].lanes]).ahead_min
