"""Spread of the end against textbook three-point networks, and against the maximum of two normal finishes.

Sources:

- Reliable Construction Co., fourteen activities, weeks: Hillier and Lieberman, Introduction to Operations Research, chapter on
  PERT/CPM. Three points, predecessors and P(T <= 47) = 0.8413 from MEMORY (the means give the durations that were READ), so
  no check rests on 0.8413: networkx and scipy decide.
- Fourteen activities, days: studyzin.com question 34526 (answers), wizedu.com question 717873 (inputs). READ. Mean 50.83,
  variance 11.194, P(T <= 55) = 0.8944 (the source rounds z to 1.25; 0.8935 without).
- The later of two normal times: C. E. Clark, Operations Research 9:145 (1961); formula of the mean READ in a quotation, that of
  the variance from MEMORY; both COMPUTED again here by quadrature.

Both textbooks take the critical path alone, as a normal with variance ((high - low) / 6)^2 a task. The expected projection draws
beta-PERT durations, whose variance is (mean - low)(high - mean) / 7, and takes the later of all paths:

=========================  =================  ==========================  ===================  ==============
network, P(end <= x)       textbook           critical path, normal,      all paths,           the projection
                           (critical path)    beta-PERT variance          scipy and networkx
=========================  =================  ==========================  ===================  ==============
Reliable, 47 weeks         0.8413 (MEMORY)    0.838                       0.813                0.818
fourteen, 55 days          0.8935             0.870                       0.851                0.854
=========================  =================  ==========================  ===================  ==============

The closed forms for what remains of a log-normal do not apply: our durations are not log-normal. What remains of a task is
checked by quadrature in `tests/core/schedule/test_durations.py`.
"""

from __future__ import annotations

import math

import networkx as nx
import numpy as np
import pytest
from scipy import integrate, stats

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import Kind, learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.scenario import at, plan_of

DRAWS = 40000
RELIABLE = {
    "A": (1, 2, 3, ""), "B": (2, 3.5, 8, "A"), "C": (6, 9, 18, "B"), "D": (4, 5.5, 10, "C"), "E": (1, 4.5, 5, "C"),
    "F": (4, 4, 10, "E"), "G": (5, 6.5, 11, "D"), "H": (5, 8, 17, "EG"), "I": (3, 7.5, 9, "C"), "J": (3, 9, 9, "FI"),
    "K": (4, 4, 4, "J"), "L": (1, 5.5, 7, "J"), "M": (1, 2, 3, "H"), "N": (5, 5.5, 9, "KL"),
}
FOURTEEN = {
    "A": (5, 5, 7, ""), "B": (1, 2, 5, ""), "C": (5, 5, 5, "A"), "D": (4, 8, 13, "A"), "E": (1, 10, 17, "BC"),
    "F": (1, 5, 7, "D"), "G": (2, 6, 9, "D"), "H": (4, 4, 6, "EF"), "I": (2, 7, 10, "GH"), "J": (2, 4, 7, "I"),
    "K": (6, 10, 13, "I"), "L": (2, 6, 6, "J"), "M": (2, 2, 3, "K"), "N": (7, 7, 12, "LM"),
}
CASES = {
    "Reliable Construction": (RELIABLE, "ABCEFJLN", 44.0, 9.0, 47, float(stats.norm(44, 3).cdf(47))),
    "fourteen activities": (FOURTEEN, "ACEHIKMN", 50.83, 11.194, 55, 0.8935),
}


def network(activities):
    """A plan with a lane for every activity, so that only `after` binds them; minutes stand for the source's unit."""
    text = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = "7:00"\n'
    for name in activities:
        text += f'[[lane]]\nid = "{name}"\nkind = "crew"\n'
    for name, (low, likely, high, before) in activities.items():
        text += (
            f'[[task]]\nid = "T{name}"\nlanes = ["{name}"]\nstart = 0\nduration = [{low}, {likely}, {high}]\n'
            f"after = {[f'T{other}' for other in before]}\n"
        )
    return plan_of(text)


def drawn_ends(plan):
    """Ends of the projection at PET zero, with the pace fixed at 1."""
    record = reconcile(plan, [], parse_instant(at(0)))
    fixed = (Kind(1e-9, 1e-9, 1e-9, 1e-9, shift=0.0, extra=0.0, weight=1.0, centred=False),)
    return expect(record, project(record), draws=DRAWS, pace=learn_pace(record, fixed)).end


def outside_ends(activities, seed=3):
    """Longest paths over scipy's beta draws, in the order that networkx gives."""
    rng = np.random.default_rng(seed)
    graph = nx.DiGraph([(other, name) for name, (*_, before) in activities.items() for other in before])
    finish = {}
    for name in nx.topological_sort(graph):
        low, likely, high, before = activities[name]
        length = np.full(DRAWS, float(likely))
        if high > low:
            alpha = 1 + 4 * (likely - low) / (high - low)
            length = stats.beta(alpha, 6 - alpha, low, high - low).rvs(DRAWS, random_state=rng)
        finish[name] = length + np.max([finish[other] for other in before] or [np.zeros(DRAWS)], axis=0)
    return np.max(list(finish.values()), axis=0)


def mean_of(low, likely, high):
    """Mean of the beta-PERT, and the textbook's."""
    return (low + 4 * likely + high) / 6


def on_path(activities, path, by, textbook):
    """P(critical path <= by) as a normal, with the textbook's variance or that of the beta-PERT."""
    mean = sum(mean_of(a, m, b) for a, m, b, _ in (activities[n] for n in path))
    variance = sum(
        ((b - a) / 6) ** 2 if textbook else (mean_of(a, m, b) - a) * (b - mean_of(a, m, b)) / 7
        for a, m, b, _ in (activities[n] for n in path)
    )
    return mean, variance, stats.norm(mean, math.sqrt(variance)).cdf(by)


@pytest.mark.parametrize("name", CASES)
def test_the_textbook_way_gives_the_textbook_values(name):
    """Normal, critical path alone, variance ((high - low) / 6)^2: our transcription is right."""
    activities, path, mean, variance, by, probability = CASES[name]
    found = on_path(activities, path, by, textbook=True)
    assert found == (pytest.approx(mean, abs=5e-3), pytest.approx(variance, abs=1e-3), pytest.approx(probability, abs=5e-4))


@pytest.mark.parametrize("name", CASES)
def test_the_projection_agrees_with_longest_paths_over_scipy_s_draws(name):
    """Probability by the deadline, mean and spread of the end, and P10, P50, P90; 40,000 draws on either side."""
    activities, _, _, _, by, _ = CASES[name]
    ours, theirs = drawn_ends(network(activities)), outside_ends(activities)
    assert (ours <= by).mean() == pytest.approx((theirs <= by).mean(), abs=0.01)
    assert ours.mean() == pytest.approx(theirs.mean(), abs=0.08)
    assert ours.std() == pytest.approx(theirs.std(), rel=0.02)
    assert np.percentile(ours, (10, 50, 90)) == pytest.approx(np.percentile(theirs, (10, 50, 90)), abs=0.15)


@pytest.mark.parametrize(("name", "on_its_path", "all_paths"), [
    ("Reliable Construction", 0.838, 0.815), ("fourteen activities", 0.870, 0.852),
])
def test_the_textbook_way_promises_more_than_the_projection(name, on_its_path, all_paths):
    """By the variance, then by the other paths: each lowers the probability; the table above is what was measured."""
    activities, path, _, _, by, textbook = CASES[name]
    one_path, ours = on_path(activities, path, by, textbook=False)[2], (drawn_ends(network(activities)) <= by).mean()
    assert (one_path, ours) == (pytest.approx(on_its_path, abs=1e-3), pytest.approx(all_paths, abs=0.01))
    assert ours < one_path < textbook


CLARK = [  # mean and spread of each lane; mean and variance of the later one, by Clark's formulas
    (100, 10, 100, 10, 105.6419, 68.169), (120, 15, 110, 20, 125.7610, 194.503), (60, 5, 60, 5, 62.8209, 17.042),
]


@pytest.mark.parametrize(("m1", "s1", "m2", "s2", "mean", "variance"), CLARK)
def test_the_pair_ends_with_the_later_of_two_lanes(m1, s1, m2, s2, mean, variance):
    """Each lane a chain of small symmetric tasks, so nearly normal: mean to 0.3 %, variance to 5 %.

    The sum of n symmetric beta-PERTs has the wanted spread only for n up to (mean / spread)^2 / 7: 4 to 20 tasks a lane.
    """
    text = ""
    for lane, m, s in (("EV1", m1, s1), ("EV2", m2, s2)):
        n = int((m / s) ** 2 / 7)
        half = math.sqrt(7 / n) * s
        text += "".join(
            f'[[task]]\nid = "{lane}-{i}"\nlanes = ["{lane}"]\nstart = {i * m / n}\n'
            f"duration = [{m / n - half}, {m / n}, {m / n + half}]\n" for i in range(n)
        )
    ends = drawn_ends(plan_of(text))
    assert ends.mean() == pytest.approx(mean, rel=3e-3)
    assert ends.var() == pytest.approx(variance, rel=5e-2)


@pytest.mark.parametrize(("m1", "s1", "m2", "s2", "mean", "variance"), CLARK)
def test_clark_s_values_are_those_of_quadrature(m1, s1, m2, s2, mean, variance):
    """COMPUTED, so that no formula from memory decides."""
    one, two = stats.norm(m1, s1), stats.norm(m2, s2)

    def moment(power):
        def density(x):
            return x**power * (one.pdf(x) * two.cdf(x) + two.pdf(x) * one.cdf(x))
        return integrate.quad(density, min(m1, m2) - 9 * max(s1, s2), max(m1, m2) + 9 * max(s1, s2), epsabs=1e-9)[0]

    assert moment(1) == pytest.approx(mean, abs=1e-3)
    assert moment(2) - moment(1) ** 2 == pytest.approx(variance, abs=2e-2)
