"""The random plans that the optimum is proven on: of each kind of answer one.

Each table entry begins with how many seeds were looked at, from 0 on. Of these it has one for each kind of answer (`kind_of`),
the one that is tried fastest. Further seeds of the same kinds prove nothing new. With HYPOTHESIS_PROFILE=explore all of
them are tried.
"""

from __future__ import annotations

import os
from collections.abc import Iterable

from dashboard.core.deferral.change import value_lost
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record

_LOOKED_AT_AND_CHOSEN: dict[str, tuple[int, ...]] = {
    "whole": (
        150,
        6, 8, 14, 18, 22, 26, 29, 31, 35, 39, 43, 45, 46, 49, 52, 53, 54, 56, 58, 59, 62, 65, 67, 69, 73, 74, 76,
        77, 79, 82, 83, 88, 89, 90, 97, 100, 104, 108, 111, 113, 121, 123, 125, 127, 128, 129, 131, 138, 139, 140,
    ),
    "sense, whole": (
        150,
        1, 2, 3, 6, 7, 14, 16, 18, 20, 22, 24, 25, 27, 28, 29, 31, 33, 36, 42, 43, 48, 49, 51, 53, 54, 56, 58, 60,
        61, 62, 64, 66, 70, 73, 74, 76, 79, 81, 85, 86, 88, 89, 90, 91, 93, 95, 96, 97, 100, 101, 106, 107, 108,
        113, 114, 118, 120, 121, 122, 123, 124, 125, 127, 128, 129, 132, 135, 137, 139, 140, 141, 142, 147, 149,
    ),
    "endings, whole": (
        160,
        3, 8, 19, 24, 26, 27, 29, 30, 41, 42, 43, 44, 45, 52, 56, 59, 61, 64, 65, 72, 73, 75, 76, 77, 80, 81, 95,
        96, 100, 104, 106, 112, 117, 121, 129, 132, 136, 138, 142, 143, 144,
    ),
    "with trims": (
        150,
        0, 1, 4, 6, 8, 13, 14, 15, 19, 22, 24, 25, 29, 32, 33, 35, 36, 41, 43, 45, 47, 49, 53, 58, 60, 63, 65, 66,
        67, 69, 70, 71, 72, 76, 77, 80, 83, 84, 93, 94, 96, 98, 103, 104, 109, 110, 111, 113, 114, 115, 116, 118,
        119, 121, 125, 127, 128, 129, 130, 131, 134, 136, 137, 141, 142, 145, 146,
    ),
    "sense, with trims": (
        150,
        0, 1, 2, 3, 4, 5, 6, 8, 13, 16, 18, 19, 22, 23, 25, 29, 30, 31, 36, 37, 39, 41, 43, 45, 46, 48, 49, 51, 52,
        54, 56, 57, 58, 59, 60, 61, 65, 66, 67, 68, 70, 71, 72, 73, 76, 79, 80, 82, 84, 87, 89, 90, 93, 96, 98, 99,
        100, 101, 103, 104, 107, 113, 115, 116, 118, 120, 121, 123, 125, 126, 127, 128, 129, 134, 135, 136, 137,
        139, 141, 142, 144, 145, 146,
    ),
    "endings, with trims": (
        160,
        3, 6, 8, 9, 19, 24, 25, 28, 35, 41, 43, 60, 61, 72, 73, 76, 79, 101, 107, 110, 112, 118, 125, 127, 128, 131,
        134, 142, 145, 148, 153, 156,
    ),
    "suits": (
        120,
        1, 3, 4, 6, 7, 9, 18, 21, 29, 33, 35, 36, 41, 43, 46, 47, 49, 57, 58, 59, 60, 63, 64, 66, 67, 68, 69, 70,
        72, 76, 80, 82, 83, 85, 89, 90, 92, 93, 94, 97, 100, 103, 104, 106, 108, 110, 111, 115, 116,
    ),
    "holds": (
        150,
        2, 5, 6, 8, 9, 13, 14, 15, 20, 21, 22, 23, 24, 26, 27, 28, 29, 31, 32, 33, 37, 39, 40, 42, 43, 44, 48, 53,
        54, 57, 58, 59, 61, 62, 66, 67, 68, 69, 73, 74, 75, 76, 77, 79, 81, 82, 83, 88, 91, 92, 97, 98, 99, 100,
        101, 106, 107, 108, 110, 111, 112, 113, 118, 119, 120, 121, 122, 124, 125, 126, 127, 131, 132, 133, 135,
        138, 139, 141, 143, 144, 146, 147, 149,
    ),
    "any order": (
        40,
        4, 6, 10, 19, 21, 26, 28, 29, 31, 33,
    ),
    "as drawn": (
        120,
        1, 2, 3, 4, 13, 14, 15, 17, 21, 22, 25, 26, 27, 29, 30, 31, 32, 34, 35, 37, 38, 42, 45, 49, 52, 53, 55, 56,
        58, 62, 64, 66, 67, 69, 71, 72, 73, 74, 75, 76, 79, 82, 83, 85, 86, 87, 89, 90, 91, 93, 94, 95, 97, 100,
        101, 102, 106, 115, 118,
    ),
}


def seeds_of(plans: str) -> Iterable[int]:
    """The seeds of the plans of one test."""
    looked_at, *chosen = _LOOKED_AT_AND_CHOSEN[plans]
    return range(looked_at) if os.environ.get("HYPOTHESIS_PROFILE") == "explore" else chosen


def kind_of(record: Record, change: Change | None, *, leaves_open: bool = False) -> tuple[object, ...]:
    """What an answer is made of; None: the limit cannot be kept.

    Which acts it has, in how many tasks (three or more are many), which classes lose, and whether it defers joint tasks, tasks
    that come after or follow others, and legs.
    """
    if change is None:
        return ()
    deferred = [record.runs[t] for t in change.defer]
    return (
        min(len(deferred), 3), min(len(change.trim), 2), bool(change.break_off), bool(change.choose), leaves_open,
        tuple(c for c, lost in value_lost(record, change).items() if lost), any(len(run.lanes) > 1 for run in deferred),
        any(run.task.after for run in deferred), any(run.task.follows for run in deferred), any(run.task.leg for run in deferred),
    )
