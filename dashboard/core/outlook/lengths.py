"""Briefed lengths against what recorded runs say, and lengths that are briefed without a range."""

from __future__ import annotations

from collections.abc import Iterator

from dashboard.core.base.minutes import length
from dashboard.core.outlook.briefed import Briefed, found, named
from dashboard.core.plan.fields import Finding

FAR = 1.2  # learned over briefed, or the other way round
MANY_WITHOUT_RANGE = 0.5


def check_lengths(briefed: Briefed) -> Iterator[Finding]:
    """The likely length of each task against the learned one, where runs were given.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A caution when the runs say that a task takes much longer than briefed, a note when they say much less.
    """
    for task in briefed.plan.tasks:
        one, likely = briefed.learned.get(task.id), task.likely_min
        if one is None or likely <= 0 or one.low_min <= likely <= one.high_min:
            continue
        longer = one.median_min / likely
        if 1 / FAR < longer < FAR:
            continue
        yield found(
            "longer-in-runs" if longer > 1 else "shorter-in-runs", "caution" if longer > 1 else "note",
            briefed.place(task.id, "duration"), named(task),
            f"a likely length near that of the recorded runs, {length(one.median_min)} "
            f"({length(one.low_min)} to {length(one.high_min)})",
            f"{length(likely)}; learned from {one.tasks} finished task{'s' if one.tasks != 1 else ''} in {one.runs} "
            f"run{'s' if one.runs != 1 else ''}",
            "Brief the length that the runs show, or say in 'notes' why this time differs. `tetherline learn` writes it.",
        )


def check_ranges(briefed: Briefed) -> Iterator[Finding]:
    """Whether most lengths are briefed with a range.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        One note when most are not.
    """
    without = [task for task in briefed.ordinary if task.duration.without_range]
    if without and len(without) >= MANY_WITHOUT_RANGE * len(briefed.ordinary):
        yield found(
            "no-ranges", "note", briefed.place(without[0].id, "duration"), "key 'duration'",
            "[low, likely, high] for most tasks", f"a single value for {len(without)} of {len(briefed.ordinary)}",
            "Give three values where the length is uncertain.",
        )


def check_reserve(briefed: Briefed) -> Iterator[Finding]:
    """Whether the plan keeps a reserve of time.

    Parameters
    ----------
    briefed
        The plan with its forecast.

    Yields
    ------
    Finding
        A note when it keeps none.
    """
    if briefed.plan.sortie.reserve == 0:
        yield found(
            "no-reserve", "note", ("sortie",), "table [sortie], key 'reserve'", "minutes of the limit that the plan must not use",
            "none", "Give 'reserve' in minutes.",
        )
