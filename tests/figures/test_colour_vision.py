"""The roles that tell things apart still do without one kind of cone, and in greys.

Matrices: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15(6), 2009, pages 1291 to 1298, severity 1.0, for linear
RGB; the numbers as the R package prismatic has them (R/color-blindness.R of EmilHvitfeldt/prismatic), agreed with memory.
Difference: CIE 1976 L*a*b* distance, white point D65, formulas from memory; that 10 is told apart at a glance beside each other
is common practice, no source. Contrast, which has a source, decides for greys.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest

from dashboard.figures import theme
from dashboard.screens.markup import SHAPES, badge

VISIONS: dict[str, Any] = {
    "protanopia": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    "deuteranopia": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    "tritanopia": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
    "greys": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
}
# What only its colour would tell apart if it stood without its form: meanings from each other, and from normal work.
MEANINGS = ("caution", "warning", "briefed", "actual", "done-fill")
LEAST_DISTANCE = 10.0
# Pairs that come closer than that in some vision, and what tells them apart there.
FORMS = {
    frozenset({"warning", "briefed"}): "bar and word against a hollow tick",
    frozenset({"actual", "briefed"}): "filled against hollow",
    frozenset({"actual", "caution"}): "no sign against triangle and word",
    frozenset({"done-fill", "caution"}): "no sign against triangle, word and dark edge",
}


def linear(colour: str) -> Any:
    """Linear RGB of ``#RRGGBB``, by the transfer function that `theme.contrast` uses."""
    channels = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def lab(rgb: Any) -> Any:
    """CIE L*a*b* of linear RGB."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    scaled = to_xyz @ np.clip(rgb, 0.0, 1.0) / np.array([0.9505, 1.0, 1.089])
    curved = np.where(scaled > 0.008856, np.cbrt(scaled), 7.787 * scaled + 16 / 116)
    return np.array([116 * curved[1] - 16, 500 * (curved[0] - curved[1]), 200 * (curved[1] - curved[2])])


def distance(first: str, second: str, vision: str) -> float:
    """How far apart two colours look."""
    a, b = (lab(VISIONS[vision] @ linear(colour)) for colour in (first, second))
    return float(np.linalg.norm(a - b))


@pytest.mark.parametrize("vision", VISIONS)
def test_white_stays_white_and_black_black(vision: str) -> None:
    """Each matrix keeps the greys: its rows add up to one."""
    assert VISIONS[vision].sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-5)


def test_the_measure_sees_what_is_confused() -> None:
    """A red and a green that a deuteranope confuses come close there, and are far apart in greys or to the usual eye."""
    red, green = "#A05A2C", "#6B7A2C"
    usual = float(np.linalg.norm(lab(linear(red)) - lab(linear(green))))
    assert distance(red, green, "deuteranopia") < LEAST_DISTANCE < usual / 3


@pytest.mark.parametrize("name", theme.THEMES)
@pytest.mark.parametrize("vision", VISIONS)
def test_meanings_can_be_told_apart_or_have_a_form(name: theme.ThemeName, vision: str) -> None:
    """Every pair differs in this vision, or is listed with the shape that doubles it."""
    colours = theme.THEMES[name]
    close = {
        frozenset(pair) for pair in combinations(MEANINGS, 2)
        if distance(colours[pair[0]], colours[pair[1]], vision) < LEAST_DISTANCE
    }
    assert close - set(FORMS) == set()


def test_no_form_is_listed_for_a_pair_that_needs_none() -> None:
    """The list holds only pairs that come close in some theme and vision."""
    close = {
        frozenset(pair) for colours in theme.THEMES.values() for vision in VISIONS for pair in combinations(MEANINGS, 2)
        if distance(colours[pair[0]], colours[pair[1]], vision) < LEAST_DISTANCE
    }
    assert set(FORMS) == close


@pytest.mark.parametrize("name", theme.THEMES)
@pytest.mark.parametrize("vision", VISIONS)
def test_every_pair_on_screen_can_be_read_in_every_vision(name: theme.ThemeName, vision: str) -> None:
    """Contrast of text and marks on their grounds, as simulated: at least nine tenths of what WCAG asks of the usual eye."""
    colours = theme.THEMES[name]
    seen = {role: np.clip(VISIONS[vision] @ linear(code), 0, 1) for role, code in colours.items()}
    luminance = {role: float(rgb @ [0.2126, 0.7152, 0.0722]) for role, rgb in seen.items()}
    for role, ground, least in theme.pairs():
        lighter, darker = sorted((luminance[role], luminance[ground]), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 0.9 * least, (role, ground)


def test_caution_and_warning_differ_by_sign_and_word() -> None:
    """No badge says anything by its colour alone."""
    assert SHAPES["caution"] != SHAPES["warning"]
    assert "behind" in badge("caution", "behind") and SHAPES["caution"] in badge("caution", "behind")
