"""Every constant of the forecast: its value, the source or assumption behind it, and how much depends on it.

Spreads are standard deviations of the logarithm of (actual / briefed). `SOURCED`: a published value sets it, and a test in
`tests/published/` holds it to that value. `ASSUMED`: our own choice; `worth` says what depends on it, as measured by the bench
that is named. `python -m tests.bench spread` prints this table.

Where a source has a part in a scored sortie, the score is made without it (`tests/published/test_pace_history.py`,
`python -m tests.bench sorties`). Seven assumed values were chosen among several that were tried, while the scores of these
sorties were looked at: HANDS_SPREAD, the two START_SHIFT values, SHIFT_WEIGHT, SCATTER_WIDE_WEIGHT, ODD_SHARE and
STICKING_WEIGHT.
For them the scores are no independent evidence.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

ASSUMED: Literal["assumed"] = "assumed"
SOURCED: Literal["sourced"] = "sourced"


class Constant(NamedTuple):
    """One constant: its value and unit, whether it is assumed or sourced, and what it rests on or is worth."""

    value: float
    unit: str
    basis: Literal["assumed", "sourced"]
    worth: str


CONSTANTS: dict[str, Constant] = {
    "COMMON_SPREAD": Constant(0.04, "log", ASSUMED, (
        "pace that all kinds of work of a sortie share. With the three spreads below it gives whole sorties a spread near the "
        "0.098 of 41 published pairs (bench spread); the share that is common is our own choice"
    )),
    "HANDS_SPREAD": Constant(0.06, "log", ASSUMED, (
        "pace of hands-on work beside the common one, on a sortie that goes as sorties mostly do; bench spread as above"
    )),
    "WIDE_SPREAD": Constant(0.25, "log", SOURCED, (
        "the same on a sortie that is slow or quick as a whole: root mean square of the mean log ratios of three historic "
        "sorties (0.39, 0.14, 0.10: tests/published/test_pace_history.py)"
    )),
    "LEG_SPREAD": Constant(0.20, "log", ASSUMED, (
        "pace of legs beside the common one. Published within one programme: legs 43.6 % over their plan where work was 20.5 % "
        "over (log 0.17 apart)"
    )),
    "LANE_SPREAD": Constant(0.04, "log", ASSUMED, "deviation of one crew member from the pair"),
    "ARM_SPREAD": Constant(0.12, "log", ASSUMED, "pace of arm tasks, which share nothing with the crew's"),
    "SHIFT_SPREAD": Constant(0.25, "log", ASSUMED, "a shift of the hands-on pace that comes and goes"),
    "START_SHIFT_SPREAD": Constant(0.30, "log", ASSUMED, "a shift that is there at PET zero and fades for good (slow start)"),
    "SHIFT_FADES_MIN": Constant(60.0, "min", ASSUMED, "after this time e^-1 of a shift is left"),
    "WIDE_WEIGHT": Constant(0.04, "", ASSUMED, "share of sorties that are slow or quick as a whole"),
    "START_SHIFT_WEIGHT": Constant(0.10, "", ASSUMED, "share of sorties with a shift at PET zero"),
    "SHIFT_WEIGHT": Constant(0.05, "", ASSUMED, "share of sorties with a shift that comes and goes"),
    "SCATTER_WIDE": Constant(0.20, "log", ASSUMED, "extra scatter of each task where briefed ranges are too narrow"),
    "SCATTER_WIDE_WEIGHT": Constant(0.05, "", ASSUMED, "share of sorties with the first of these"),
    "ODD_SHARE": Constant(0.05, "", ASSUMED, (
        "share of finished tasks whose length says little about the pace: something stuck, or an entry of the log was late"
    )),
    "ODD_SPREAD": Constant(0.60, "log", ASSUMED, "what such a task scatters beyond the others"),
    "ODD_SHARE_STICKING": Constant(0.20, "", ASSUMED, "the share on a sortie on which one thing after the other sticks"),
    "STICKING_SHARE": Constant(0.10, "", ASSUMED, "share of the tasks ahead that stick on such a sortie: the upper half"),
    "STICKING_WEIGHT": Constant(0.05, "", ASSUMED, "share of such sorties"),
    "LEAST_SCATTER": Constant(0.05, "log", ASSUMED, "least scatter that learning takes a task to have"),
    "SCATTER_UNBRIEFED": Constant(0.22, "log", SOURCED, (
        "scatter of a task that was briefed as a single value: ten published pairs scatter by 0.21 about the means of their "
        "three sorties (tests/published/test_pace_history.py)"
    )),
    "SCATTER_WHOLE": Constant(0.10, "log", ASSUMED, "the part of it that a long task has as a whole"),
    "GRAIN_MIN": Constant(20.0, "min", ASSUMED, "a longer single value counts as several tasks of this length in a row"),
    "TAIL_SHARE": Constant(0.05, "", ASSUMED, "share of tasks in work that outlast their longest briefed duration"),
    "TAIL_MEAN_OF_RANGE": Constant(0.25, "", ASSUMED, "mean of that time, as a share of the briefed range"),
    "SHORTEST_TAIL_OF_LIKELY": Constant(0.10, "", ASSUMED, "least mean of that time, as a share of the likely duration"),
    "ESTIMATE_SPREAD": Constant(0.25, "log", ASSUMED, "what remains against what crew or room estimated"),
    "LEAST_ESTIMATE_MIN": Constant(1.0, "min", ASSUMED, "resolution of a log: no estimate is better than this"),
    "LEAST_HOLD_MIN": Constant(10.0, "min", ASSUMED, "least mean of a hold without a known end"),
    "BOXED_EARLY_SHARE": Constant(0.15, "", SOURCED, "boxed stops that end early: one of five published (test_boxed_stops.py)"),
    "BOXED_EARLY_OF_LENGTH": Constant(0.10, "", ASSUMED, "they end early by no more than this share of their length"),
    "BOXED_OVERRUN_MIN": Constant(6.0, "min", SOURCED, (
        "mean overrun of the others: 7.2 min in four published stops (test_boxed_stops.py)"
    )),
    "BOXED_WORTH": Constant(3.0, "", ASSUMED, "the mean overrun is worth so many finished boxed stops"),
    "LEAST_SHARE_MISSED": Constant(0.05, "", ASSUMED, "a window that is missed in fewer draws is not worth a sentence"),
    "WAITING_LOG": Constant(0.04, "log", ASSUMED, (
        "what lanes that work alone lose by waiting for each other; as measured on plans of forty tasks (bench spread)"
    )),
    "LEAST_OF_LIKELY": Constant(0.8, "", ASSUMED, (
        "overruns of boxed stops make the other work no shorter than this share of its likely lengths, however many there are"
    )),
    "WHOLE_SORTIE_LOG": Constant(0.022, "log", SOURCED, (
        "mean of log(actual / planned) of 41 sorties whose plan was published before (tests/published/test_sortie_lengths.py)"
    )),
}


def value(name: str) -> float:
    """The value of a constant.

    Parameters
    ----------
    name
        A key of `CONSTANTS`.

    Returns
    -------
    float
        In the unit that stands there.
    """
    return CONSTANTS[name].value
