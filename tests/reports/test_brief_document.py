"""The printed brief: everything is on it, on every page what it is, and what changed is marked."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import cache
from io import BytesIO

import pytest
from pypdf import PdfReader

from dashboard.core.brief.look_ahead import brief
from dashboard.reports.brief_document import brief_document, cuff_document
from dashboard.reports.document import Document, Heading, Paragraph, Table
from dashboard.reports.html import html
from dashboard.reports.pdf import pdf
from tests.core.brief.made import PLAN, TEXT, changed
from tests.scenario import plan_of, task

MADE_AT = datetime(2031, 4, 1, 8, 0, tzinfo=UTC)
FACTS = brief(PLAN, draws=200)
OLD = changed(
    ('start = "0:20"', 'start = "0:15"'), ("shortest = 15", "shortest = 20"), ("loaded = 400", "loaded = 380"),
    ("duration = 6", "duration = 9"),
)  # fmt: skip
MARKED = brief(PLAN, against=OLD, draws=0)
MM = 72 / 25.4


def whole(facts=FACTS) -> Document:
    return brief_document(facts, MADE_AT, "9.8.7")


@cache
def paper(which: str) -> PdfReader:
    make = {"whole": brief_document, "cuff": cuff_document}[which]
    return PdfReader(BytesIO(pdf(make(FACTS, MADE_AT, "9.8.7"))))


def text_of(page) -> str:
    return " ".join(page.extract_text().split())


@pytest.mark.parametrize("which", ["whole", "cuff"])
def test_every_page_says_what_it_is(which):
    """As another library reads it: caution, sortie, revision, date, and its number of how many."""
    pages = paper(which).pages
    for number, page in enumerate(pages, start=1):
        text = text_of(page)
        made, of = "Made at 2031-04-01 UTC 08:00:00", f"page {number} of {len(pages)}"
        for wanted in ("Not certified for flight use.", "Sortie t", f"revision {FACTS.revision}", made, of):
            assert wanted in text, (number, wanted)


def test_the_whole_brief_is_on_large_paper():
    """Lane sheet, steps, task sheet, waits, endings, decisions, suits, ways, contingencies: each is found by its words."""
    pages = paper("whole").pages
    text = " ".join(text_of(page) for page in pages)
    assert [round(float(side)) for side in pages[0].mediabox[2:]] == [595, 842]
    for wanted in (
        "Lane sheet as briefed, PET 0:00 to 2:50", "Wrench in the left hand", "begin by PET 0:50", "waits for ARM: CARRY",
        "EV1, EV2 and ARM: this step (Lamp mast), until PET 1:30", "Keep or lash: keep (as briefed): KEEP; lash: LASH.",
        "CLEAN (get-ahead, 12 min)", "Suit budget at the briefed workload", "400 Wh", "Leave by, PET", "If: Lamp does not turn.",
        "Holds LAMP Change the lamp",
        "May come in at any time", "not in the plan unless that option is taken", "30 (20 to 50)", "may be handed to EV2",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_cuff_pages_are_small_and_each_is_of_one_lane_at_one_worksite():
    """95 mm by 127 mm; what a lane does not do is not on its pages; its contingencies follow."""
    pages = paper("cuff").pages
    assert all(abs(float(page.mediabox[2]) - 95 * MM) < 1 and abs(float(page.mediabox[3]) - 127 * MM) < 1 for page in pages)
    heads = [match[0] for page in pages if (match := re.match(r"EV\d \d of \d: \w+|EV\d, if: [^C]+", text_of(page)))]
    assert heads == [
        "EV1 1 of 3: airlock", "EV1 2 of 3: Lamp", "EV1 3 of 3: airlock", "EV1, if: Lamp does not turn ",
        "EV2 1 of 3: airlock", "EV2 2 of 3: Lamp", "EV2 3 of 3: airlock", "EV2, if: Glove is cut ", "EV2, if: Frost seen ",
    ]  # fmt: skip
    mast = text_of(pages[2])
    assert "JOIN , 20 min, with EV2 and ARM" in mast or "JOIN, 20 min, with EV2 and ARM" in mast
    assert "PREP" not in mast and "Wrench in the left hand" in mast and "begin by PET 0:50 (daylight)" in mast
    assert "if: Lamp does not turn (stuck)" in mast and "only if ending is lash" in mast


def test_many_steps_at_one_worksite_are_more_than_one_small_page():
    """No page holds more than five, and all of them are there."""
    many = TEXT + "".join(task(f"M{n}", "EV2", 91 + n, 1, worksite="mast") for n in range(9))
    parts = cuff_document(brief(plan_of(many), draws=0), MADE_AT, "9.8.7").parts
    tables = [part for part in parts if isinstance(part, Table) and part.columns[1].head == "PET"]
    assert [len(table.rows) for table in tables] == [1, 4, 1, 1, 4, 4, 3, 1]
    assert sum(row[2].startswith("M") and row[2][1].isdigit() for table in tables for row in table.rows) == 9


def test_what_changed_stands_first_and_is_marked():
    """A list before all else, and a bar at the rows of what is new or changed, on page and paper."""
    parts = whole(MARKED).parts
    assert isinstance(parts[0], Heading) and parts[0].text == f"What changed since revision {MARKED.against.revision}"
    first = next(part for part in parts if isinstance(part, Table))
    lamp = "moved from PET 0:15 to PET 0:20\nshortest changed from 20 to 15"
    assert [row for row in first.rows if row[0].startswith("task LAMP")] == [("task LAMP Change the lamp", lamp)]
    assert ("suit A", "battery.loaded changed from 380 to 400") in first.rows
    marked = {row[2] for part in parts if isinstance(part, Table) and part.columns[-1].head == "Before it, and windows"
              for n, row in enumerate(part.rows) if n in part.changed}
    assert marked == {"LAMP Change the lamp"}
    assert sum(len(part.changed) for part in parts if isinstance(part, Table)) == 4  # step, task, suit, contingency step
    assert str(html(whole(MARKED))).count('<tr class="changed">') == 4
    cuff = [part for part in cuff_document(MARKED, MADE_AT, "9.8.7").parts if isinstance(part, Table)]
    assert {part.rows[n][2] for part in cuff for n in part.changed} == {"LEVER Lever on, 6 min", cuff[1].rows[0][2]}
    assert 'class="changed"' not in html(whole())


def test_an_unchanged_issue_says_so():
    """And one of another sortie is named."""
    same = whole(brief(PLAN, against=PLAN, draws=0)).parts
    assert [part.text for part in same[1:2]] == ["Nothing."]
    other = whole(brief(PLAN, against=changed(('id = "t"\n', 'id = "u"\n')), draws=0)).parts
    assert any(isinstance(part, Paragraph) and "another sortie, u" in part.text for part in other)


def test_the_page_has_boxes_to_tick():
    """One for each task, get-ahead, decision, contingency step and check; none of them is text."""
    page = str(html(whole()))
    ticked = [part for part in whole().parts if isinstance(part, Table) and any(column.ticks for column in part.columns)]
    assert page.count('class="tick"') == sum(len(part.rows) for part in ticked) > 15


def test_every_time_stands_with_its_clock():
    """A PET is named where it stands alone, or by the head of its column."""
    for part in (*whole(MARKED).parts, *cuff_document(FACTS, MADE_AT, "9.8.7").parts):
        texts = [part.text] if isinstance(part, Paragraph | Heading) else []
        if isinstance(part, Table):
            cells = [pair for row in part.rows for pair in zip(row, part.columns, strict=True)]
            texts = [cell for cell, column in cells if "PET" not in column.head]
        for text in texts:
            for found in re.finditer(r"\b\d{1,2}:\d{2}\b", text):
                assert re.search(r"(PET|PET \d{1,2}:\d{2} to|UTC) $", text[: found.start()]), text


def test_a_plan_with_little_in_it():
    """One lane, one task, no suit, no contingency: each section says that there is nothing."""
    lone = plan_of('[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 60\n[[lane]]\nid = "EV1"\nkind = "crew"\n'
                   '[[task]]\nid = "T"\nlanes = ["EV1"]\nduration = 5\nget_ahead = true\n')
    text = " ".join(part.text for part in whole(brief(lone, draws=0)).parts if isinstance(part, Paragraph))
    for wanted in ("no lane sheet", "No lane waits.", "No ending is open.", "The plan names no suit.", "The plan prepares none."):
        assert wanted in text
