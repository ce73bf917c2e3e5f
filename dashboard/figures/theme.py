"""Colour roles and sizes of both themes: the only file with colour codes.

All other files name a role as ``var(--done-fill)``, in style sheets and in figures alike; the browser resolves it before it
draws a figure. Normal is grey. Four colours have a meaning: briefed (and selected), caution, warning, and stale (grey with
a hatch). Each of them comes with a form or a word. No text or mark is dimmed by opacity: there is a role for dimmed text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Literal

ThemeName = Literal["dark", "light"]

DARK: Mapping[str, str] = {
    # grounds
    "ground": "#1E2227",  # page, and the columns of the sheet
    "band": "#15181C",  # top band
    "panel": "#2B2F36",  # cards
    "raised": "#3A4049",  # buttons and fields on cards
    "line": "#454C56",  # edges of cards
    "grid": "#32383F",  # grid of the sheet
    "night": "#14171A",  # outside a daylight window
    # text
    "text": "#E6E8EB",
    "secondary": "#A9B1BA",
    "dimmed": "#9AA2AC",  # deferred, withdrawn, out of reach
    # work, by its state
    "done-fill": "#49505A",
    "done-edge": "#8A929C",
    "done-text": "#F1F2F4",
    "actual": "#C8CDD3",  # work in hand, bars of what is left
    "actual-text": "#15181C",
    "strong-edge": "#FFFFFF",  # work in hand, and the line of now
    "on-strong": "#15181C",  # text on strong-edge
    "projected-fill": "#262B31",
    "projected-edge": "#8A929C",
    "projected-hatch": "#3C434C",
    "projected-text": "#E6E8EB",
    "hold-fill": "#343A42",
    "hold-edge": "#C8CDD3",
    "soft": "#7A8088",  # spread of an end, normal range of a scale
    # meanings
    "briefed": "#56B4E9",
    "on-briefed": "#15181C",
    "caution": "#F0E442",
    "caution-edge": "#F0E442",
    "warning": "#D55E00",
    "warning-edge": "#E8772E",  # warning drawn as a line on a ground
    "on-alert": "#000000",  # text on caution and on warning
    "stale": "#A9B1BA",
    "stale-hatch": "#3A4049",
    "focus": "#56B4E9",
}

LIGHT: Mapping[str, str] = {
    "ground": "#F2F2F2",
    "band": "#E3E5E8",
    "panel": "#FFFFFF",
    "raised": "#E9EBEE",
    "line": "#C3C8CE",
    "grid": "#DADDE1",
    "night": "#DFE2E6",
    "text": "#1E2227",
    "secondary": "#4A515B",
    "dimmed": "#565D67",
    "done-fill": "#C9CED4",
    "done-edge": "#5A6068",
    "done-text": "#15181C",
    "actual": "#5A6068",
    "actual-text": "#FFFFFF",
    "strong-edge": "#000000",
    "on-strong": "#FFFFFF",
    "projected-fill": "#FAFAFA",
    "projected-edge": "#6F7680",
    "projected-hatch": "#DCDFE3",
    "projected-text": "#1E2227",
    "hold-fill": "#E2E5E9",
    "hold-edge": "#33383F",
    "soft": "#858A92",
    "briefed": "#0072B2",
    "on-briefed": "#FFFFFF",
    "caution": "#F0E442",
    "caution-edge": "#1E2227",
    "warning": "#D55E00",
    "warning-edge": "#C25500",
    "on-alert": "#000000",
    "stale": "#4A515B",
    "stale-hatch": "#D3D7DC",
    "focus": "#0072B2",
}

THEMES: Mapping[ThemeName, Mapping[str, str]] = {"dark": DARK, "light": LIGHT}

SIZES: Mapping[str, str] = {
    "font": '"DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif',
    "size-headline": "34px",
    "size-pair": "30px",  # two figures in one box
    "size-title": "18px",
    "size-text": "16px",
    "size-small": "14px",
    "size-least": "13px",
    "target": "32px",  # smallest button that acts
    "gap": "8px",
}
LEAST_PX = 13

# Pairs that appear on screen: text on a ground, and marks that must stand out from their ground.
# The edges of cards and the grid have no meaning and are not listed; a test proves that they stay faint.
TEXT_ON: Mapping[str, tuple[str, ...]] = {
    "text": ("ground", "band", "panel", "raised", "night", "hold-fill", "projected-fill", "line"),
    "secondary": ("ground", "band", "panel", "raised", "night"),
    "dimmed": ("ground", "panel", "night"),
    "done-text": ("done-fill",),
    "actual-text": ("actual",),
    "on-strong": ("strong-edge",),
    "projected-text": ("projected-fill", "projected-hatch"),
    "on-briefed": ("briefed",),
    "on-alert": ("caution", "warning"),
    "stale": ("ground", "band", "panel", "stale-hatch"),
    "briefed": ("ground", "panel"),
}
MARK_ON: Mapping[str, tuple[str, ...]] = {
    "done-edge": ("ground", "night", "panel"),
    "actual": ("ground", "night", "panel"),
    "strong-edge": ("ground", "night", "panel", "done-fill"),
    "projected-edge": ("ground", "night", "panel"),
    "hold-edge": ("ground", "night", "hold-fill"),
    "soft": ("ground", "panel"),
    "briefed": ("ground", "night", "panel"),
    "caution-edge": ("ground", "panel", "night"),
    "warning-edge": ("ground", "panel", "night"),
    "focus": ("ground", "band", "panel"),
    "dimmed": ("ground", "night", "panel"),
}
TEXT_LEAST_RATIO = 4.5  # WCAG 2.2, success criterion 1.4.3
MARK_LEAST_RATIO = 3.0  # WCAG 2.2, success criterion 1.4.11


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours.

    WCAG 2.2, definitions of "contrast ratio" and "relative luminance" (https://www.w3.org/TR/WCAG22/).

    Parameters
    ----------
    first, second
        As ``#RRGGBB``; their order does not matter.

    Returns
    -------
    float
        1 to 21.
    """
    lighter, darker = sorted((_relative_luminance(first), _relative_luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _relative_luminance(colour: str) -> float:
    """Relative luminance of ``#RRGGBB``: 0 black, 1 white."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def pairs() -> Iterator[tuple[str, str, float]]:
    """Every pair of roles that appears on screen: role, ground, and the least contrast ratio required."""
    for table, least in ((TEXT_ON, TEXT_LEAST_RATIO), (MARK_ON, MARK_LEAST_RATIO)):
        for role, grounds in table.items():
            for ground in grounds:
                yield role, ground, least


def var(role: str) -> str:
    """The text by which style sheets and figures name a role, ``var(--role)``.

    Parameters
    ----------
    role
        Name of a colour role.

    Returns
    -------
    str

    Raises
    ------
    KeyError
        When the role does not exist.
    """
    if role not in DARK:
        raise KeyError(f"expected a colour role of theme.py, not '{role}'")
    return f"var(--{role})"


def css_variables() -> str:
    """The style sheet that defines every role: dark by default, light under ``data-theme="light"``."""
    sizes = "".join(f"--{name}:{value};" for name, value in SIZES.items())
    return (
        f":root{{color-scheme:dark;{_declared(DARK)}{sizes}}}\n"
        f':root[data-theme="light"]{{color-scheme:light;{_declared(LIGHT)}}}\n'
    )


def resolved(part: Any, theme: ThemeName = "dark") -> Any:
    """A figure, or a part of one, with each ``var(--role)`` replaced by its colour. For use without a browser.

    Parameters
    ----------
    part
        Mappings, lists and texts are searched; other values stay as they are.
    theme
        The theme whose colours are taken.

    Returns
    -------
    Any
        Of the same shape; tuples become lists.

    Raises
    ------
    KeyError
        When a role does not exist.
    """
    if isinstance(part, dict):
        return {key: resolved(value, theme) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return [resolved(value, theme) for value in part]
    if isinstance(part, str) and "var(--" in part:
        return re.sub(r"var\(--([a-z0-9-]+)\)", lambda found: THEMES[theme][found.group(1)], part)
    return part


def _declared(colours: Mapping[str, str]) -> str:
    return "".join(f"--{role}:{code};" for role, code in colours.items())
