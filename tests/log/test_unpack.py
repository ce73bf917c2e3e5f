"""Workbooks that are small as files and large once unpacked are refused, with the reason."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.limits import LOG_SHEET, PLAN_SHEET, TAGS_PER_ROW
from dashboard.log.table import read_table
from dashboard.log.unpack import MOST_MEMBERS, STEP_BYTES, unpacked
from tests.log.workbooks import SHEET, STRINGS, declaring, sheet_xml, strings_xml, with_parts, workbook
from tests.problems import assert_problem, the_only

PATH = Path("tasks.xlsx")
TOO_LONG = b"x" * 51_000_000
CELL = '<row r="{0}"><c r="{1}{0}" t="inlineStr"><is><t>id</t></is></c></row>'


def refused(data: bytes) -> Problem:
    """The one problem with which a workbook is refused."""
    with pytest.raises(InputError) as wrong:
        read_table(PATH, PLAN_SHEET, data=data)
    return the_only(wrong.value.problems)


def test_a_small_file_that_declares_a_large_content_is_refused() -> None:
    """Nothing of it is unpacked."""
    data = with_parts({SHEET: TOO_LONG})
    assert len(data) < 100_000
    assert_problem(refused(data), subject="tasks.xlsx", expected="unpacks to at most 50 MB", found="51 MB", cure="Remove rows")


@pytest.mark.parametrize("size", [0, 1000, 40_000_000])
def test_a_false_size_does_not_let_a_large_content_in(size: int) -> None:
    """The content is counted while it is unpacked, whatever it declares."""
    data = declaring(with_parts({SHEET: TOO_LONG}), size)
    if size * 9 > 50e6:  # nine members that declare 40 MB each
        data = with_parts({SHEET: TOO_LONG}).replace((51_000_000).to_bytes(4, "little"), size.to_bytes(4, "little"))
    assert_problem(refused(data), subject="tasks.xlsx", expected="at most 50 MB", found="more than it declares", cure="Remove")


def test_a_false_size_of_a_small_content_does_no_harm() -> None:
    """What counts is what the parts hold."""
    parts = unpacked(PATH, declaring(workbook([["id"], ["T1"]]), 7), PLAN_SHEET)
    assert b"<t>T1</t>" in parts[SHEET]


def test_unpacking_stops_at_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """A content of twenty times the limit is not read to its end."""
    taken = []
    read = zipfile.ZipExtFile.read

    def counted(self: zipfile.ZipExtFile, n: int | None = -1) -> bytes:
        step = read(self, n)
        taken.append(len(step))
        return step

    data = declaring(with_parts({SHEET: b"x" * 20_000_000}), 0)
    monkeypatch.setattr(zipfile.ZipExtFile, "read", counted)
    limits = PLAN_SHEET.__class__(**{**vars(PLAN_SHEET), "unpacked_mb": 1.0})
    with pytest.raises(InputError):
        unpacked(PATH, data, limits)
    assert 1_000_000 < sum(taken) <= 1_000_000 + STEP_BYTES and max(taken) <= STEP_BYTES


@pytest.mark.parametrize(
    ("parts", "expected", "found"),
    [
        ({SHEET: sheet_xml(CELL.format(1, "XFD"))}, "at most 200 columns", "a cell in column XFD of row 1"),
        ({SHEET: sheet_xml("".join(f'<row r="{n}"><c r="XFD{n}"/></row>' for n in range(1, 10)))}, "cells, empty ones", "more"),
        ({SHEET: sheet_xml(CELL.format(5001, "A"))}, "at most 5000 rows", "more"),
        ({SHEET: sheet_xml('<row r="2000000"/>')}, "rows up to 1048576", "beyond"),
        ({SHEET: sheet_xml(CELL.format(1, "A").replace("id", "x" * 40_000))}, "at most 32767 characters", "40000 characters"),
        ({SHEET: sheet_xml("<row>" + "<c/>" * TAGS_PER_ROW + "</row>")}, "XML tags in a row", "more"),
        ({SHEET: sheet_xml("<row><c/></row>" * 300_000)}, "at most 800000 XML tags", "more"),
        ({STRINGS: strings_xml("<si/>" * 125_001)}, "at most 125000 cells with text", "more"),
        ({STRINGS: strings_xml("<si>" + "<r/>" * TAGS_PER_ROW + "</si>")}, "XML tags in a row", "more"),
        ({SHEET: b'<!DOCTYPE a [<!ENTITY b "c">]>' + sheet_xml("")}, "a task sheet", "entities"),
        ({SHEET: sheet_xml("").decode().encode("utf-16")}, "a task sheet", "not UTF-8"),
        ({f"xl/a{n}.xml": b"" for n in range(MOST_MEMBERS)}, "at most 2000 parts", "more"),
    ],
)
def test_what_would_take_time_or_memory_is_refused(parts: dict[str, bytes], expected: str, found: str) -> None:
    """Wide rows, far cells, long texts, very many tags or parts, and entities, each with the reason."""
    problem = refused(with_parts(parts))
    assert_problem(problem, subject="tasks.xlsx", expected=expected, found=found, cure="")
    assert problem.cure


@pytest.mark.parametrize("compression", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_workbook_packed_in_another_way_is_refused(compression: int) -> None:
    """It could not be unpacked in small steps."""
    assert_problem(refused(with_parts({}, compression)), subject="tasks.xlsx", expected="a task sheet", found="packed in a way",
                   cure="Save the sheet again")


def test_pictures_are_not_unpacked() -> None:
    """A photo in a sheet costs nothing, however large it is."""
    table = read_table(PATH, LOG_SHEET, data=with_parts({"xl/media/photo.png": TOO_LONG}))
    assert table.columns == ("id",)


@pytest.mark.parametrize("cut", [40, 400, 2000])
def test_a_workbook_cut_short_is_refused(cut: int) -> None:
    """As a damaged file."""
    assert_problem(refused(workbook([["id"]])[:cut]), subject="tasks.xlsx", expected="a task sheet", found="a damaged file",
                   cure="Save the sheet again")
