"""Ids of everything on the screens that a callback or a test names: one enum a region."""

from __future__ import annotations

from enum import StrEnum


class Store(StrEnum):
    """What the browser holds."""

    SNAP = "snap"  # the last message of the server


class Sheet(StrEnum):
    """The lane sheet and its rail."""

    REGION = "sheet"
    GRAPH = "sheet-graph"
    FOLLOW = "sheet-follow"  # store: True while the view follows now
    JUMP = "sheet-jump"  # store: PET minutes to bring into view
    RESIZED = "sheet-resized"  # store: counts changes of the size of the sheet
    BACK = "sheet-back-to-now"
    RAIL = "sheet-rail"
    OUT = "sheet-out"  # line of what left the sortie
