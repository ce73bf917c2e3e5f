"""The shapes of requests and answers about the plan file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from dashboard.service.http.described import Described

MOST_ROWS = 5000
PlanRow = dict[str, Annotated[str, Field(max_length=4000)]]
PlanRows = Annotated[list[PlanRow], Field(max_length=MOST_ROWS)]


class Edited(BaseModel):
    """The tasks as edited, and as the editing started: a text for each column of a task sheet."""

    model_config = ConfigDict(extra="forbid")

    rows: PlanRows
    base: PlanRows


class ToSave(Edited):
    """What is to be saved, and the digest of the file that the editing started from."""

    digest: str = Field(max_length=100)


class EditedText(BaseModel):
    """The whole plan file as edited, and as the editing started, in TOML."""

    model_config = ConfigDict(extra="forbid")

    text: str
    base: str


class TextToSave(EditedText):
    """What is to be saved, and the digest of the file that the editing started from."""

    digest: str = Field(max_length=100)


class PlanFileNow(Described):
    """The plan file: a text for each column of each task, its whole text, and what may be done with it.

    `why_not` says why the visitor may not save; it is empty when they may. `is_followed`: whether the board follows this plan.
    `endings`: task -> alternative -> the options of it that bring the task.
    """

    name: str
    digest: str
    rows: list[dict[str, str]]
    why_not: str
    counts_from: str
    choices: dict[str, list[str]]
    endings: dict[str, dict[str, list[str]]]
    is_followed: bool
    text: str


class RowFinding(Described):
    """A finding of the check. `row` counts from 0; null: it is about another part of the file.

    `refuses`: no server starts with the plan until it is corrected.
    """

    row: int | None
    column: str | None
    severity: Literal["error", "caution", "note"]
    text: str
    refuses: bool


class PlanChecked(Described):
    """What the check finds, the lane sheet of the plan, and what was changed. `sheet` null: nothing can be drawn."""

    findings: list[RowFinding]
    summary: str
    left_out: list[str]
    sheet: dict[str, object] | None
    rail: dict[str, object] | None
    changes: list[str]
    caution: str


class PlanSaved(Described):
    """The file as it was written."""

    digest: str
    rows: list[dict[str, str]]
    said: str


class PlanConflict(Described):
    """The file was changed meanwhile, so nothing was written.

    `theirs` are the rows of the file now, `together` the same with the changes of the sender on them; `both` says where both
    changed the same.
    """

    digest: str
    theirs: list[dict[str, str]]
    together: list[dict[str, str]]
    both: list[str]
    their_changes: list[str]
    your_changes: list[str]


class PlanTextChecked(Described):
    """What the check finds in an edited text, and what was changed. `summary` is empty when it makes no plan."""

    findings: list[RowFinding]
    summary: str
    changes: list[str]
    caution: str


class PlanTextConflict(Described):
    """The file was changed meanwhile, so nothing was written.

    `theirs` is the text of the file now, `together` the same with the changes of the sender on it; null where both changed the
    same lines, as `both` says.
    """

    digest: str
    theirs: str
    together: str | None
    both: list[str]
    their_changes: list[str]
    your_changes: list[str]
