"""The debrief as tables: the facts, complete, and no text taken for a formula."""

from __future__ import annotations

from io import BytesIO, StringIO

import openpyxl
import pandas as pd
import pytest

from dashboard.reports.tables import csv_texts, frames, xlsx
from tests.reports import facts as made
from tests.reports.facts import MADE_AT, VERSION

EVERY = {"ended": made.ended, "so far": made.so_far, "nothing": made.nothing}


@pytest.mark.parametrize("facts", EVERY.values(), ids=EVERY)
def test_both_forms_hold_the_same_tables(facts):
    """Every table has a head even when it is empty, the caution above it, and as many rows in both forms."""
    book = openpyxl.load_workbook(BytesIO(xlsx(facts(), MADE_AT, VERSION)))
    texts = csv_texts(facts(), MADE_AT, VERSION)
    assert book.sheetnames == list(texts)
    for name, text in texts.items():
        first, _, rest = text.partition("\n")
        assert first.startswith("# Sortie t. Advisory only.")
        read, sheet = pd.read_csv(StringIO(rest)), book[name]
        assert sheet["A1"].value == first.removeprefix("# ")
        assert [cell.value for cell in sheet[2]] == list(read.columns) != []
        assert sheet.max_row == len(read) + 2


def test_every_table_of_a_rehearsal_says_so():
    """Above its head, in both forms."""
    book = openpyxl.load_workbook(BytesIO(xlsx(made.rehearsed(), MADE_AT, VERSION)))
    texts = csv_texts(made.rehearsed(), MADE_AT, VERSION)
    said = f"Sortie t. {made.REHEARSED}. Advisory only"
    assert [sheet["A1"].value[: len(said)] for sheet in book] == [said] * len(book.sheetnames)
    assert all(text.startswith(f"# {said}") for text in texts.values())
    assert "ehears" not in csv_texts(made.ended(), MADE_AT, VERSION)["lanes"]


def test_the_minutes_of_the_table_add_up():
    """Summed by lane they are the difference in the table of lanes."""
    tables = frames(made.ended(), MADE_AT, VERSION)
    sums = tables["minutes"].groupby("lane")["minutes"].sum()
    for _, lane in tables["lanes"].iterrows():
        assert sums[lane["lane"]] == pytest.approx(lane["difference_min"], abs=0.01)


def test_a_title_is_no_formula():
    """A title that begins with = is text in the workbook."""
    sheet = openpyxl.load_workbook(BytesIO(xlsx(made.ended(), MADE_AT, VERSION)))["tasks"]
    found = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=SUM(1)"]
    assert found and all(cell.data_type == "s" for cell in found)


def test_a_very_long_line_is_whole_in_the_csv():
    """A cell of a workbook holds 32767 characters; what is over is in the CSV, and the cell says so."""
    unread = made.ended().unread[0].model_copy(update={"line": "y" * 50_000})
    facts = made.ended().model_copy(update={"unread": [unread]})
    assert "y" * 50_000 in csv_texts(facts, MADE_AT, VERSION)["not_read"]
    cell = openpyxl.load_workbook(BytesIO(xlsx(facts, MADE_AT, VERSION)))["not_read"]["A3"].value
    assert cell.endswith("... (18000 more characters in the CSV table)")
