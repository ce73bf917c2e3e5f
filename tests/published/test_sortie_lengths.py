"""The spread before anything is finished, against the lengths of 41 real sorties (`sortie_lengths.py`).

What is drawn for typical plans of their lengths holds as many of them as it should. The widths of the priors were chosen on
these lengths, so this is a check of the choice and no forecast.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from dashboard.core.schedule.constants import value
from tests.bench.bench_spread import coverage, starts
from tests.published.sortie_lengths import SORTIES

LOGS = [math.log(sortie.actual_min / sortie.planned_min) for sortie in SORTIES]


def test_whole_sorties_run_two_per_cent_over_their_plan_and_spread_by_ten():
    """Mean of the logarithm 0.022, standard deviation 0.098; the mean is the one that the pace starts from."""
    assert len(LOGS) == 41
    assert (np.mean(LOGS), np.std(LOGS, ddof=1)) == (pytest.approx(0.022, abs=5e-4), pytest.approx(0.098, abs=5e-4))
    assert value("WHOLE_SORTIE_LOG") == pytest.approx(np.mean(LOGS), abs=5e-4)


@pytest.mark.parametrize("style", ["ranges", "single values", "mostly joint"])
@pytest.mark.parametrize("minutes", [360.0, 390.0, 420.0])
def test_a_typical_plan_spreads_over_85_to_125_minutes_about_its_brief(style, minutes):
    """P10 to P90 of the end at PET zero; P50 within 15 min of the brief."""
    for start in starts(style, minutes):
        assert 85 <= start.width <= 125, start
        assert abs(start.p50 - start.briefed) <= 15, start


def test_a_plan_of_legs_and_boxed_stops_spreads_less():
    """Its stops end by the clock; P50 within 20 min of the brief, since stops run over."""
    for start in starts("legs and boxed stops"):
        assert 65 <= start.width <= 125, start
        assert abs(start.p50 - start.briefed) <= 20, start


def test_p10_to_p90_holds_four_of_five_real_sorties():
    """80 % +/- 8 of the 41, and about as many before it as after it."""
    before, held, after = coverage()
    assert held == pytest.approx(0.80, abs=0.08)
    assert before == pytest.approx(after, abs=0.08)
