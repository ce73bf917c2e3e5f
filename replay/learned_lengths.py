"""The learned length of each task of a plan, as the checks of the plan take it."""

from __future__ import annotations

import math
from statistics import NormalDist

from dashboard.core.outlook.learned_length import LearnedLength
from dashboard.core.plan.model import Plan
from replay.learn import Fit

WITHIN = NormalDist().inv_cdf(0.9)  # 80 % lie within so many standard deviations


def learned_lengths(plan: Plan, learned: Fit) -> dict[str, LearnedLength]:
    """What recorded runs say of the lengths of a plan.

    Parameters
    ----------
    plan
        The plan that is checked.
    learned
        What was learned from the runs.

    Returns
    -------
    dict of str to LearnedLength
        Task -> its learned length; without tasks of which no run tells.
    """
    found = {}
    for task in plan.tasks:
        one = learned.of(task, plan.sortie.id)
        if one is not None:
            median = task.likely_min * math.exp(one.log_mean)
            reach = math.exp(WITHIN * one.doubt)
            found[task.id] = LearnedLength(median, median / reach, median * reach, one.n, one.runs)
    return found
