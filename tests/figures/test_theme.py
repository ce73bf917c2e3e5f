"""Colours live in one file, can be told apart, and can be read."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import pytest

from dashboard.figures import theme

ROOT = Path(__file__).parents[2]
PAIRS = [(name, *pair) for name in theme.THEMES for pair in theme.pairs()]
COLOUR_CODE = re.compile(r"""#[0-9a-fA-F]{6}(?:[0-9a-fA-F]{2})?\b|["':\s(]#[0-9a-fA-F]{3}["';\s)]""")


@pytest.mark.parametrize(
    ("first", "second", "ratio"),
    [("#000000", "#FFFFFF", 21.0), ("#FFFFFF", "#FFFFFF", 1.0), ("#777777", "#FFFFFF", 4.48), ("#FFFFFF", "#767676", 4.54)],
)
def test_contrast_is_that_of_wcag(first: str, second: str, ratio: float) -> None:
    """The ratio is the one of WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio).

    Black on white is 21:1 by the definition. The greys are worked by hand from it: for #777777 the channel is
    119/255 = 0.46667, its luminance ((0.46667 + 0.055) / 1.055) ** 2.4 = 0.18447, and 1.05 / 0.23447 = 4.478.
    """
    assert theme.contrast(first, second) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize(("name", "role", "ground", "least"), PAIRS)
def test_every_pair_on_screen_can_be_read(name: theme.ThemeName, role: str, ground: str, least: float) -> None:
    """Text stands out 4.5:1 and marks 3:1 from every ground they appear on, dimmed uses too, in both themes."""
    colours = theme.THEMES[name]
    assert theme.contrast(colours[role], colours[ground]) >= least


def test_both_themes_have_the_same_roles() -> None:
    """A role of one theme is a role of the other, and every pair names roles that exist."""
    assert set(theme.DARK) == set(theme.LIGHT)
    assert {role for role, ground, _ in theme.pairs() for role in (role, ground)} <= set(theme.DARK)


@pytest.mark.parametrize("name", theme.THEMES)
def test_card_edges_and_grid_stay_faint(name: theme.ThemeName) -> None:
    """Lines that carry no meaning stay under the contrast of marks that do."""
    colours = theme.THEMES[name]
    for role in ("line", "grid"):
        assert theme.contrast(colours[role], colours["ground"]) < theme.MARK_LEAST_RATIO


@pytest.mark.parametrize("name", theme.THEMES)
def test_meanings_differ_without_hue(name: theme.ThemeName) -> None:
    """Briefed, caution and warning fills differ in lightness, so that greyscale keeps them apart."""
    fills = [theme.THEMES[name][role] for role in ("briefed", "caution", "warning")]
    if name == "light":
        fills.remove(theme.LIGHT["briefed"])  # a line beside fills there, told by its form
    assert all(theme.contrast(a, b) >= 1.5 for a, b in combinations(fills, 2))


@pytest.mark.parametrize("name", theme.THEMES)
def test_normal_is_grey(name: theme.ThemeName) -> None:
    """Every role but the meanings is close to grey."""
    meanings = ("briefed", "caution", "warning", "focus", "on-")
    for role, code in theme.THEMES[name].items():
        if not role.startswith(meanings):
            channels = [int(code[at : at + 2], 16) for at in (1, 3, 5)]
            assert max(channels) - min(channels) <= 20, role


def test_colour_codes_are_in_one_file_only() -> None:
    """No source or style file but the theme has a colour code."""
    files = [*ROOT.glob("dashboard/**/*.py"), *ROOT.glob("assets/**/*.css"), *ROOT.glob("assets/**/*.js")]
    offenders = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in files
        if path.name != "theme.py"
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if COLOUR_CODE.search(line)
    ]
    assert len(files) > 10
    assert offenders == []


def test_styles_name_only_roles_that_exist() -> None:
    """Every var(--...) of the style sheets and scripts is a role or a size of the theme."""
    known = set(theme.DARK) | set(theme.SIZES)
    unknown = []
    for path in [*ROOT.glob("assets/**/*.css"), *ROOT.glob("assets/**/*.js")]:
        text = path.read_text(encoding="utf-8")
        own = set(re.findall(r"(--[a-z0-9-]+)\s*:", text))
        used = set(re.findall(r"var\((--[a-z0-9-]+)", text)) - own
        unknown += [f"{path.name}: {name}" for name in sorted(used) if name[2:] not in known]
    assert unknown == []


def test_css_variables_define_every_role() -> None:
    """The page's style text defines each role for the dark theme and again for the light one."""
    dark, light = theme.css_variables().split('[data-theme="light"]')
    for role in theme.DARK:
        assert f"--{role}:{theme.DARK[role]};" in dark
        assert f"--{role}:{theme.LIGHT[role]};" in light


def test_a_role_that_does_not_exist_is_refused() -> None:
    """A misspelt role fails where it is written, not on screen."""
    with pytest.raises(KeyError, match="expected a colour role"):
        theme.var("don-fill")
    assert theme.resolved({"line": [theme.var("briefed"), 2]}) == {"line": ["#56B4E9", 2]}
