"""What holds a task back."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from dashboard.core.base.findings import StateModel


class Waits(StateModel):
    """What holds a task back, and until when."""

    kind: Literal["task", "lane", "not before", "window", "now", "hold"]
    name: str | None = Field(default=None, description="the task, lane or kind of window waited for")
    until_pet_min: float | None = None
