"""Rows of a workbook: what its cells are, and formulas by their saved results."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

import openpyxl
import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.limits import LOG_SHEET
from dashboard.log.xlsx_rows import Merged, Sheet, xlsx_sheets
from tests.log.workbooks import SHEET, STRINGS, sheet_xml, strings_xml, with_parts, workbook
from tests.problems import assert_problem, the_only

PATH = Path("log.xlsx")


def cells(data: bytes) -> list[tuple[object, ...]]:
    """The cells of the filled rows of the first sheet, which must be one that may be used."""
    return [row.cells for row in first(data).rows]


def first(data: bytes) -> Sheet:
    """The first sheet."""
    sheet = xlsx_sheets(PATH, data, LOG_SHEET)[0]
    if sheet.fault is not None:
        raise sheet.fault
    return sheet


def test_cells_keep_what_the_spreadsheet_holds() -> None:
    """Texts, numbers, yes and no, times, lengths of time and dates; an error is shown by its name."""
    row = ("T1", 7, 1.5, True, dt.time(1, 50), dt.timedelta(hours=25), dt.datetime(2031, 4, 12, 9, 10))
    assert cells(workbook([row])) == [row]
    assert cells(with_parts({SHEET: sheet_xml('<row r="1"><c r="A1" t="e"><v>#REF!</v></c></row>')})) == [("#REF!",)]


def test_texts_from_the_common_list_of_a_workbook_are_read() -> None:
    """Spreadsheets keep each text once; parts of one text in several styles are one text."""
    sheet = sheet_xml('<row r="1"><c r="A1" t="s"><v>1</v></c><c r="B1" t="s"><v>0</v></c></row>')
    texts = strings_xml("<si><t>what</t></si><si><r><t>ti</t></r><r><t>me</t></r></si>")
    assert cells(with_parts({SHEET: sheet, STRINGS: texts})) == [("time", "what")]


def test_a_size_that_a_sheet_declares_of_itself_leaves_no_cell_out() -> None:
    """Some programs write a sheet as one cell large, whatever it holds."""
    sheet = sheet_xml('<row r="1"><c r="A1"><v>1</v></c><c r="C1"><v>3</v></c></row><row r="3"><c r="A3"><v>4</v></c></row>')
    sheet = sheet.replace(b"<sheetData>", b'<dimension ref="A1"/><sheetData>')
    assert cells(with_parts({SHEET: sheet})) == [(1, "", 3), (4,)]


def test_a_formula_is_its_saved_result() -> None:
    """An empty text is a result too."""
    sheet = sheet_xml(
        '<row r="1"><c r="A1"><f>20+20</f><v>40</v></c><c r="B1" t="str"><f>""</f><v></v></c><c r="C1"><v>1</v></c></row>'
    )
    assert cells(with_parts({SHEET: sheet})) == [(40, "", 1)]


@pytest.mark.parametrize("result", ["", "<v/>", "<v></v>"])
def test_a_formula_without_a_saved_result_is_named(result: str) -> None:
    """It would read as an empty cell."""
    sheet = sheet_xml(f'<row r="2"><c r="B2"><f>20+20</f>{result}</c></row>')
    with pytest.raises(InputError) as wrong:
        cells(with_parts({SHEET: sheet}))
    assert_problem(the_only(wrong.value.problems), subject="row 2, column B", expected="a value", found="(=20+20)",
                   cure="save it", where="log.xlsx: sheet tasks, row 2, column B")


def test_a_sheet_beside_it_does_not_matter() -> None:
    """A formula without a result on another sheet, in a cell of the same address, is a fault of that sheet alone."""
    book = openpyxl.Workbook()
    book.active["B2"] = 40
    book.create_sheet("scratch")["B2"] = "=20+20"
    buffer = io.BytesIO()
    book.save(buffer)
    tasks, scratch = xlsx_sheets(PATH, buffer.getvalue(), LOG_SHEET)
    assert (tasks.fault, tasks.rows[0].cells) == (None, ("", 40))
    assert scratch.fault is not None


def test_merged_cells_are_known() -> None:
    """Rows count from 1, columns from 0, as in the rows that are read."""
    book = openpyxl.Workbook()
    book.active["A1"] = "one"
    book.active.merge_cells("A1:AB1")
    book.active.merge_cells("B3:B5")
    buffer = io.BytesIO()
    book.save(buffer)
    assert set(first(buffer.getvalue()).merged) == {Merged(1, 0, 1, 27), Merged(3, 1, 5, 1)}
