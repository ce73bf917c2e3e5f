"""The plan file of a server: its tasks as rows, the check of edited rows, and saving them.

1. The file is named by the digest of its bytes. Saving names the digest that the editing started from. When the file has another
   one, nothing is written: the answer holds both differences, and the rows of both put together.
2. A saved plan does not change the sortie that runs: the server goes on with the plan that it was started with, and a saved plan
   counts from its next start. Once PET zero is recorded the file is not changed any more, since all figures of the sortie, of a
   server started again, and of the debrief compare with the plan as briefed.
3. What would not be read as a plan again is not written. A plan with errors between its tasks, such as overlaps, is written:
   planning takes days. No server starts with it until they are corrected.
"""

from __future__ import annotations

import hashlib
import re
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from dashboard import words
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.outlook.findings import briefed_plan, forecast_findings
from dashboard.core.outlook.verdict import verdict_of
from dashboard.core.plan.check import examine_tables
from dashboard.core.plan.fields import Finding, read_tables, split_place
from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from dashboard.figures.as_briefed import as_briefed
from dashboard.figures.lane_sheet import sheet_payload
from dashboard.figures.rail import rail_payload
from dashboard.log.limits import PLAN_FILE_MB
from dashboard.log.plan_difference import difference, merged
from dashboard.log.plan_rows import Row, RowsRead, rows_of, tables_of, without_rows
from dashboard.log.plan_update import changed_plan_text
from dashboard.log.planfile import WHAT, Address, addresses, read_toml
from dashboard.log.plantext import plan_to_toml
from dashboard.log.text_difference import changes_in_words, merged_texts
from dashboard.log.textfile import UTF8_MARK, decoded, read_file
from dashboard.log.whole_file import write_whole
from dashboard.service.access.roles import HOW, Visitor, may
from dashboard.service.desk import Desk

NEXT_START = "A saved plan counts from the next start of the server: the board goes on with the plan that it was started with."
UNDER_WAY = (
    "PET zero is recorded, so the plan file is not changed any more: every figure compares with the plan as briefed. "
    "Enter changes as decisions on the board."
)
NO_FILE = "This server was not started with a plan file, so the plan can be looked at here, and not changed."
ONLY_SHOWS = "This server only shows. The plan is edited where the log is kept."
GRADES = ("error", "caution", "note")
MOST_TRIES = 4  # of drawing without the tasks that have errors
STILL_DRAWN = ("overlap", "start-against-link")  # the plan pace puts such tasks one after the other


@dataclass(frozen=True)
class FileNow:
    """The plan file as it is now.

    Parameters
    ----------
    text : str
        Without a byte-order mark.
    digest : str
        Names this content.
    tables : dict
        The tables of the text.
    name : str
        Of the file, for addresses.
    marked : bool
        Whether the file begins with a byte-order mark.
    """

    text: str
    digest: str
    tables: dict[str, Any]
    name: str
    marked: bool = False

    @cached_property
    def address(self) -> Address:
        """Gives the line of a place in the file."""
        return addresses(Path(self.name), self.text)


class PlanFile:
    """The plan file of a desk.

    Parameters
    ----------
    desk
        The sortie that is followed.
    path
        The file that the server was started with; None: there is none, and nothing can be saved.
    """

    def __init__(self, desk: Desk, path: Path | None) -> None:
        self._desk = desk
        self._path = path
        self._saving = threading.Lock()
        self._last: FileNow | None = None

    @property
    def name(self) -> str:
        """Name of the file, without its folder; empty: there is none."""
        return "" if self._path is None else self._path.name

    def now(self) -> FileNow:
        """Read the file.

        Returns
        -------
        FileNow

        Raises
        ------
        InputError
            When it cannot be read as TOML.
        """
        if self._path is None:
            text = plan_to_toml(self._desk.plan)
            return FileNow(text, _digest(text.encode()), read_toml(text, Path("plan")), "plan")
        data = read_file(self._path, WHAT, PLAN_FILE_MB)
        digest, last = _digest(data), self._last
        if last is None or last.digest != digest:
            text = decoded(self._path, WHAT, data)
            self._last = last = FileNow(text, digest, read_toml(text, self._path), self.name, data.startswith(UTF8_MARK))
        return last

    def why_not(self, visitor: Visitor) -> str:
        """Why a visitor may not save.

        Parameters
        ----------
        visitor
            Who asks.

        Returns
        -------
        str
            A sentence; empty: they may.
        """
        if self._path is None:
            return NO_FILE
        if not self._desk.may_log:
            return ONLY_SHOWS
        if self.under_way():
            return UNDER_WAY
        if not may(visitor.role, "lead"):
            return f"Who may record decisions may change the plan file: {HOW}."
        return ""

    def under_way(self) -> bool:
        """Whether PET zero of the sortie is recorded. When that is not known, it is taken as recorded."""
        snapshot = self._desk.current()
        return snapshot.state is None or snapshot.state.basis.pet_zero_from == "clock event"

    def content(self, visitor: Visitor) -> dict[str, Any]:
        """The file for the page.

        Parameters
        ----------
        visitor
            Who asks.

        Returns
        -------
        dict
            As `dashboard.service.http.plan_file_shapes.PlanFileNow` describes it.
        """
        now = self.now()
        plan = read_tables(now.tables).plan
        return {
            "name": self.name, "digest": now.digest, "rows": rows_of(now.tables), "why_not": self.why_not(visitor),
            "counts_from": NEXT_START, "choices": _choices(now.tables), "endings": _endings(plan),
            "is_followed": plan == self._desk.plan, "text": now.text,
        }  # fmt: skip

    def check(self, rows: Sequence[Row], base: Sequence[Row]) -> dict[str, Any]:
        """Check edited rows, and draw them.

        Parameters
        ----------
        rows
            The tasks as edited.
        base
            The tasks of the file as the editing started.

        Returns
        -------
        dict
            As `dashboard.service.http.plan_file_shapes.PlanChecked` describes it.
        """
        now = self.now()
        read = tables_of(rows, now.tables)
        plan, findings = examine_tables(read.tables)
        left_out: list[str] = []
        state: SortieState | None = None
        verdict = "cannot be followed yet"
        if plan is not None:
            briefed = briefed_plan(plan)
            findings, state = [*findings, *forecast_findings(briefed)], briefed.state
            verdict = verdict_of(briefed, [*(one.problem for one in read.problems), *(one.problem for one in findings)])
        else:
            plan, left_out = _drawn(rows, now.tables, read, findings)
            state = None if plan is None else follow(plan, [], plan.sortie.start)
        return {
            "findings": self._findings(now, read, findings),
            "summary": "" if plan is None or state is None else _summary(plan, state, verdict),
            "left_out": left_out,
            "sheet": None if plan is None or state is None else sheet_payload(plan, as_briefed(state)),
            "rail": None if plan is None or state is None else rail_payload(plan, state),
            "changes": [one.words for one in difference(base, rows, now.tables)],
            "caution": CAUTION,
        }

    def save(self, rows: Sequence[Row], base: Sequence[Row], digest: str) -> dict[str, Any]:
        """Write edited rows into the file, and keep its comments. Nothing is written when the file is another one by now.

        Parameters
        ----------
        rows
            The tasks as edited.
        base
            The tasks of the file as the editing started.
        digest
            The digest of the file as the editing started.

        Returns
        -------
        dict
            As `dashboard.service.http.plan_file_shapes.PlanSaved` or `PlanConflict` describes it.

        Raises
        ------
        InputError
            When the rows make no plan, or the file cannot be read, changed or written.
        """
        return self._saved(digest, lambda now: _text_of_rows(now, rows), lambda now: _conflict(now, rows, base))

    def check_text(self, text: str, base: str) -> dict[str, Any]:
        """Check an edited text of the whole file.

        Parameters
        ----------
        text
            TOML.
        base
            The text of the file as the editing started.

        Returns
        -------
        dict
            As `dashboard.service.http.plan_file_shapes.PlanTextChecked` describes it.
        """
        summary, found = "", []
        try:
            tables = read_toml(text, Path(self.name or "plan"))
        except InputError as wrong:
            found = wrong.problems
        else:
            plan, findings = examine_tables(tables)
            if plan is not None:
                briefed = briefed_plan(plan)
                findings = [*findings, *forecast_findings(briefed)]
                summary = _summary(plan, briefed.state, verdict_of(briefed, (one.problem for one in findings)))
            address = addresses(Path(self.name or "plan"), text)
            found = [replace(one.problem, where=address(one.place).text) for one in findings]
        told = sorted((_finding(one, None, None) for one in found), key=lambda one: GRADES.index(one["severity"]))
        return {"findings": told, "summary": summary, "changes": changes_in_words(base, text), "caution": CAUTION}

    def save_text(self, text: str, base: str, digest: str) -> dict[str, Any]:
        """Write an edited text as the whole file. Nothing is written when the file is another one by now.

        Parameters
        ----------
        text
            TOML; its line ends become those of the file.
        base
            The text of the file as the editing started.
        digest
            The digest of the file as the editing started.

        Returns
        -------
        dict
            As `dashboard.service.http.plan_file_shapes.PlanSaved` or `PlanTextConflict` describes it.

        Raises
        ------
        InputError
            When the text makes no plan, or the file cannot be read or written.
        """
        return self._saved(digest, lambda now: _text_of_text(now, text), lambda now: _text_conflict(now, text, base))

    def _saved(
        self, digest: str, text_of: Callable[[FileNow], str], conflict: Callable[[FileNow], dict[str, Any]]
    ) -> dict[str, Any]:
        """Write the text that `text_of` makes of the file; the answer of `conflict` when the file is another one by now."""
        if self._path is None:
            raise InputError([Problem("plan file", "a server that was started with a plan file", "none", NO_FILE)])
        with self._saving:
            now = self.now()
            if now.digest != digest:
                return conflict(now)
            text = text_of(now)
            data = (UTF8_MARK if now.marked else b"") + text.encode()
            _write(self._path, data)
        return {"digest": _digest(data), "rows": rows_of(read_toml(text, self._path)), "said": _said(self.name)}

    def _findings(self, now: FileNow, read: RowsRead, findings: Sequence[Finding]) -> list[dict[str, Any]]:
        found = [_finding(one.problem, one.row, one.column) for one in read.problems]
        for one in findings:
            item, below = split_place(one.place)
            if item in read.places:
                found.append(_finding(one.problem, read.places[item], str(below[0]) if below else None))
            else:
                found.append(_finding(replace(one.problem, where=now.address(one.place).text), None, None))
        return sorted(found, key=lambda one: (GRADES.index(one["severity"]), one["row"] is None, one["row"] or 0))


def _finding(problem: Problem, row: int | None, column: str | None) -> dict[str, Any]:
    return {
        "row": row, "column": column, "severity": problem.severity, "text": problem.text(), "refuses": problem.refuses,
    }  # fmt: skip


def _drawn(
    rows: Sequence[Row], tables: Mapping[str, Any], read: RowsRead, findings: Sequence[Finding]
) -> tuple[Plan | None, list[str]]:
    """A plan that can be drawn although rows have errors, and the names of the tasks left out. None: no plan can be drawn."""
    gone: set[int] = set()
    for _ in range(MOST_TRIES):
        numbers = [at for at in range(len(rows)) if at not in gone]
        refusing = [one for one in findings if one.problem.refuses and one.problem.code not in STILL_DRAWN]
        items = [split_place(one.place)[0] for one in refusing]
        wrong = {numbers[read.places[item]] for item in items if item in read.places}
        if not refusing:
            return read_tables(read.tables).plan, [rows[at].get("id", "").strip() or f"row {at + 1}" for at in sorted(gone)]
        if not wrong:
            break
        gone |= wrong
        read = tables_of(without_rows(rows, gone), tables)
        findings = examine_tables(read.tables)[1]
    return None, []


def _text_of_rows(now: FileNow, rows: Sequence[Row]) -> str:
    """The text of the file with edited rows in place of its tasks.

    Raises
    ------
    InputError
        When the rows make no plan, or the text cannot be changed.
    """
    read = tables_of(rows, now.tables)
    plan, findings, _ = read_tables(read.tables)
    wrong = [*(one.problem for one in read.problems), *(one.problem for one in findings)]
    if plan is None or wrong:
        raise InputError(wrong)
    if plan == read_tables(now.tables).plan:
        return now.text
    changed = changed_plan_text(now.text, plan)
    if changed is None:
        cure = "Write each task as a table [[task]] of its own, or change the file with a text editor."
        raise InputError([Problem(
            f"file {now.name}", "a plan file that can be changed piece by piece",
            "one that has errors, or has its tasks in one list", cure,
        )])  # fmt: skip
    return changed.text


def _text_of_text(now: FileNow, text: str) -> str:
    """An edited text with the line ends of the file.

    Raises
    ------
    InputError
        When it makes no plan.
    """
    plan, findings, _ = read_tables(read_toml(text, Path(now.name)))
    if plan is None or findings:
        raise InputError([one.problem for one in findings])
    lines = re.sub(r"\r\n?", "\n", text)
    return lines.replace("\n", "\r\n") if "\r\n" in now.text else lines


def _text_conflict(now: FileNow, text: str, base: str) -> dict[str, Any]:
    found = merged_texts(base, now.text, text)
    return {
        "digest": now.digest, "theirs": now.text, "together": found.text, "both": found.both,
        "their_changes": found.theirs, "your_changes": found.yours,
    }  # fmt: skip


def _conflict(now: FileNow, rows: Sequence[Row], base: Sequence[Row]) -> dict[str, Any]:
    theirs = rows_of(now.tables)
    together = merged(base, theirs, rows, now.tables)
    return {
        "digest": now.digest, "theirs": theirs, "together": together.rows, "both": together.both,
        "their_changes": [one.words for one in difference(base, theirs, now.tables)],
        "your_changes": [one.words for one in difference(base, rows, now.tables)],
    }  # fmt: skip


def _summary(plan: Plan, state: SortieState, verdict: str) -> str:
    """Whether the plan can be used, and its end against its limit, in one sentence."""
    limit = f"limit {words.pet_named(state.limit.pet_min)} ({state.limit.set_by})"
    ends = f"briefed end {words.pet_named(state.end.briefed_pet_min)}, {limit}"
    return f"The plan {verdict}; {words.how_many(len(plan.tasks), 'task')}, {ends}."


def _choices(tables: Mapping[str, Any]) -> dict[str, list[str]]:
    """The names that a cell may take, by column, as far as they stand outside the tasks."""

    def names(table: str, key: str = "id") -> list[str]:
        rows = tables.get(table)
        found = [row.get(key) for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []
        return list(dict.fromkeys(name for name in found if isinstance(name, str)))

    lanes, sites = names("lane"), names("worksite")
    return {
        "lanes": lanes, "can_move_to": lanes, "worksite": sites, "leg": sites, "needs": names("window", "kind"),
        "contingency": names("contingency"),
    }  # fmt: skip


def _endings(plan: Plan | None) -> dict[str, dict[str, list[str]]]:
    """For each task of an alternative: the alternative, and its options with the task. Empty when the plan cannot be read."""
    endings: dict[str, dict[str, list[str]]] = {}
    for alternative in plan.alternatives if plan is not None else ():
        for option, tasks in alternative.options.items():
            for task in tasks:
                endings.setdefault(task, {}).setdefault(alternative.id, []).append(option)
    return endings


def _said(name: str) -> str:
    return f"Saved in {name}. {NEXT_START}"


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _write(path: Path, data: bytes) -> None:
    """Replace a file as a whole: a reader finds the old content or the new one."""
    try:
        write_whole(path, data, to_disk=True)
    except OSError as wrong:
        cure = "Check the folder and its permissions. Nothing was written, and the edited plan is still in the page."
        raise InputError([Problem(f"file {path.name}", "a plan file that can be written", str(wrong.strerror), cure)]) from None
