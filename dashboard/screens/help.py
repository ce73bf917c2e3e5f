"""The map of keys and signs, what each browser chooses for itself, and the search for a task."""

from __future__ import annotations

import json
from typing import Any

from dash import html

from dashboard.core.plan.model import Plan
from dashboard.screens import keys
from dashboard.screens.forms import ends, form, labelled, slot
from dashboard.screens.ids import Act, Aloud, Find, Help
from dashboard.screens.markup import extra

# Class of the sign (``assets/help.css``), text in it, meaning.
SIGNS: tuple[tuple[str, str, str], ...] = (
    ("sign-flag", "▷", "briefed start of a block; the thin line leads to where the block really begins"),
    ("sign-done", "", "done"),
    ("sign-work", "", "in work"),
    ("sign-hold", "", "on hold"),
    ("sign-projected", "", "projected: expected, not yet begun"),
    ("sign-gutter", "", "bar at the right of a block: its end lies in it with 80 % chance (P10 to P90)"),
    ("sign-struck", "T1", "would be given up"),
    ("sign-now", "", "now"),
    ("sign-limit", "", "limit; on the rail, a dashed line"),
    ("sign-night", "", "outside the window of daylight"),
    ("sign-briefed", "", "on the rail: briefed, not begun"),
    ("sign-out", "", "on the rail: not done in this sortie"),
    ("sign-view", "", "on the rail: the time that the sheet shows"),
    ("sign-scale", "", "scale: thick part normal, thin mark the limit or the brief, strong mark the value; right is better"),
    ("badge caution", "▲", "caution"),
    ("badge warning", "▌", "warning: act"),
    ("sign-stale", "", "hatch over figures: stale, or no contact"),
)
SIGNS_SAID = """\
▷ is the briefed start; its line leads to where the block really begins.
Light block: in work. Grey: done. Hatched: projected, not yet begun. Struck through: would be given up.
Bar at the right of a block: its end lies in it with 80 % chance (P10 to P90).
Dark ground: outside the window of daylight. White line: now. Orange dashed line: the limit.
On the rail at the left: blue frames are briefed and not begun, dashed frames are not done in this sortie, and the dotted frame \
is the time that the sheet shows."""
THEMES = (("dark", "dark"), ("light", "light"), ("system", "as this computer"))


def signs_button() -> html.Button:
    """The button that says, on pointing at it and on keyboard focus, what the signs of the lane sheet mean."""
    return html.Button("Signs", id=Help.SIGNS, className="sheet-button", **extra({"data-basis": SIGNS_SAID}))


def open_button() -> html.Button:
    """The button that opens the map."""
    said = "Keys, signs and settings (?)"
    return html.Button("?", id=Help.OPEN, className="button help-open", title=said, **extra({"aria-label": said}))


def layout(plan: Plan) -> list[Any]:
    """The dialogs, the hint about the next key, and the two places that are read aloud.

    Parameters
    ----------
    plan
        It gives the lanes.

    Returns
    -------
    list
        Elements of the page, all hidden at first.
    """
    return [
        _map(plan), _find(),
        html.Div(id=Help.HINT, className="key-hint", role="status", hidden=True),
        html.Div(id=Aloud.NEWS, className="told", role="status", **extra({"aria-live": "polite"})),
        html.Div(id=Aloud.CALL, className="told", role="alert", **extra({"aria-live": "assertive"})),
    ]


def _map(plan: Plan) -> html.Dialog:
    lanes = ", ".join(f"{number} {name}" for number, name in enumerate(keys.table(plan)["lanes"], 1))
    return html.Dialog(
        id=Help.DIALOG,
        className="form help",
        **extra({"aria-label": "Keys, signs and settings", "data-keys": json.dumps(keys.table(plan))}),
        children=[
            html.Div(
                [html.H2("Keys, signs and settings"),
                 html.Button("Find a task", id=Find.OPEN, type="button", className="button"),
                 html.Button("Close", id=Help.CLOSE, type="button", className="button", **extra({"data-act": Act.CLOSE}))],
                className="help-head",
            ),
            html.Div(
                className="help-parts",
                children=[
                    html.Section([
                        html.H3("Keys"), _keys((key, said) for key, (_, said) in keys.KEYS.items()),
                        html.H3(f"Number of a lane ({lanes}), then"),
                        _keys((key, said) for key, (_, said) in keys.LANE_KEYS.items()),
                        html.H3("In a replay"), _keys(keys.REPLAY_KEYS.items()),
                    ]),
                    html.Section([
                        html.H3("Signs"),
                        html.Ul([html.Li([html.Span(text, className=f"sign {class_}", **extra({"aria-hidden": "true"})),
                                          html.Span(said)]) for class_, text, said in SIGNS]),
                        html.H3("This browser"), *_settings(),
                    ]),
                ],
            ),
        ],
    )


def _keys(rows: Any) -> html.Dl:
    return html.Dl([part for key, said in rows for part in (html.Dt(html.Kbd(key)), html.Dd(said))])


def _settings() -> list[Any]:
    theme = html.Select([html.Option(said, value=value) for value, said in THEMES], id=Help.THEME, className="field")
    return [
        labelled("Theme", theme),
        html.Button("Sound at a call to decide: off", id=Help.SOUND, type="button", className="button"),
        html.Button("Notification at a call to decide: off", id=Help.NOTIFY, type="button", className="button"),
        html.Button("Single keys: on", id=Help.SINGLE_KEYS, type="button", className="button", title="Off: for speech input"),
        html.P(id=Help.SAID, className="form-hint", role="status"),
    ]


def _find() -> html.Dialog:
    return form(
        Find.FORM, "Find a task",
        labelled("Id, or words of the title", slot(Find.FIELD, "for instance: T240, or tray bolts")),
        html.Div(id=Find.FOUND, className="find-found", role="status"),
        ends(Find.GO, "Show it", Find.CANCEL),
    )
