"""The debrief as page and paper: all of it there, nothing from outside, nothing that breaks on odd texts."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from dashboard.core.debrief.facts import LedgerLine
from dashboard.reports.debrief_document import debrief_document, later, recorded
from dashboard.reports.document import Column, Document, Heading, Paragraph, Picture, Table, clean
from dashboard.reports.html import html
from dashboard.reports.pdf import pdf
from tests.reports import facts as made
from tests.reports.facts import MADE_AT, VERSION

EVERY = {"ended": made.ended, "rehearsed": made.rehearsed, "so far": made.so_far, "nothing": made.nothing}


class Words(HTMLParser):
    """The text of a page, and every address that it would load or lead to."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text, self.addresses, self.open = "", [], []
        self.feed(str(page))  # as plain text: parts of markup would be escaped once more

    def handle_starttag(self, tag, attrs):
        self.addresses += [value for key, value in attrs if key in ("src", "href", "srcset", "action")]
        if tag not in ("meta", "col"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data if "style" not in self.open else ""


def document(facts) -> Document:
    return debrief_document(facts, MADE_AT, VERSION)


def pages_of(paper: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b(?!s)", paper))


@pytest.mark.parametrize("facts", EVERY.values(), ids=EVERY)
def test_the_page_needs_nothing_from_outside_and_is_whole(facts):
    """No address, every element closed, and caution, sortie, version and instant of making on it."""
    page = Words(html(document(facts())))
    assert page.addresses == [] and page.open == []
    assert "http:" not in html(document(facts())).replace("http://www.w3.org/2000/svg", "")
    for wanted in (facts().caution, "Sortie t", "tetherline 9.8.7", "Made at 2031-04-13 UTC 08:00:00"):
        assert wanted in page.text


@pytest.mark.parametrize("facts", EVERY.values(), ids=EVERY)
def test_the_paper_has_pages(facts):
    """A PDF, made by the same document, of at least two pages."""
    paper = pdf(document(facts()))
    assert paper.startswith(b"%PDF-") and pages_of(paper) >= 2
    assert len(paper) < 300_000


def test_every_section_says_what_it_should():
    """Titles, the reason of the hold, the decision, the estimate of what is left, and the line that could not be read."""
    text = Words(html(document(made.ended()))).text
    for wanted in (
        "Debrief: Tray", "Unstow <pump>", "on hold: reel", "Together: end less briefed end", "defer T040 Swap tray",
        "suit A water", "8 min\n(estimate)".splitlines()[1], "broken off", "line 7", "... (701 more characters)",
        "Projected ends against the actual end", "(actual)", "came after T010 (done)",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert "so far" not in text


def test_a_sortie_that_goes_on_is_marked_so_far():
    """In the title, in words at the top, and at the carry-over."""
    text = Words(html(document(made.so_far()))).text
    assert "Debrief so far: Tray" in text and "The sortie has not ended" in text and "Carry-over so far" in text
    assert "(actual)" not in text and "(projected at plan pace)" in text


def test_a_rehearsal_does_not_pass_for_a_recorded_run():
    """The title says what it is; with the caution, on top and on every page of paper, of which run it is one."""
    found, page = document(made.rehearsed()), Words(html(document(made.rehearsed()))).text
    assert found.title == "Debrief of a rehearsal: Tray" and found.running == "Sortie t, debrief of a rehearsal"
    assert found.caution.startswith(f"{made.REHEARSED}. Advisory only")
    assert page.count(made.REHEARSED) == 2 and "ehears" not in html(document(made.ended()))


def test_every_time_stands_with_its_clock():
    """A time of day or a PET is named where it stands alone, or by the head of its column."""
    for part in document(made.ended()).parts:
        if isinstance(part, Paragraph | Heading):
            for found in re.finditer(r"\b\d{1,2}:\d{2}\b", part.text):
                before = part.text[: found.start()]
                assert re.search(r"(PET|UTC|to) $", before), part.text


def test_all_columns_of_the_ledger_add_up_to_their_last_row():
    """Also after rounding to tenths, within a tenth an entry."""
    tables = [part for part in document(made.ended()).parts if isinstance(part, Table) and part.strong]
    assert len(tables) == 1
    for column in (1, 2):
        cells = [row[column] for row in tables[0].rows]
        assert sum(float(cell) for cell in cells[:-1] if cell) == pytest.approx(float(cells[-1]), abs=0.05 * len(cells))


def test_of_where_the_minutes_went_the_largest_few_are_told():
    """Six a lane, however many there are; the rest as one sum, so that the entries add up to the difference all the same."""
    lines = [LedgerLine(kind="overrun", minutes=minutes, task="T010") for minutes in (9, -8, 7, 6, -5, 4, 3, 2.5, -1, 0.5)]
    lane = made.ended().lanes["EV1"].model_copy(update={"ledger": lines, "difference_min": 18.0})
    parts = list(document(made.ended().model_copy(update={"lanes": {"EV1": lane}})).parts)
    heading = next(n for n, part in enumerate(parts) if isinstance(part, Heading) and part.text == "EV1: largest entries")
    rows = parts[heading + 1].rows
    assert [row[0] for row in rows] == ["+9.0", "-8.0", "+7.0", "+6.0", "-5.0", "+4.0", "+5.0"]
    assert rows[-1][1] == "and 4 more, together"


def test_the_end_before_and_with_a_decision_names_its_clock():
    """Both ends in one cell, each with the word PET."""
    rows = [row for part in document(made.ended()).parts if isinstance(part, Table) for row in part.rows]
    ends = [cell for row in rows for cell in row if "\nwith it" in cell]
    assert ends and all(re.fullmatch(r"before PET \d+:\d\d\nwith it PET \d+:\d\d", cell) for cell in ends)


def test_a_decision_that_was_entered_late_shows_the_figures_of_both_times():
    """Those that it was entered on, and those of its own time; any other decision shows neither."""
    facts = made.ended()
    told = {"entered_on": "the figures of PET 0:40", "shown_then": "the figures of PET 0:20"}
    late = facts.decisions[0].model_copy(update=told)
    words = "\n".join(
        cell for part in document(facts.model_copy(update={"decisions": [late, *facts.decisions[1:]]})).parts
        if isinstance(part, Table) for row in part.rows for cell in row
    )
    assert "entered late, on the figures of PET 0:40\nrecorded with it, of its own time: the figures of PET 0:20" in words
    assert words.count("entered late") == 1


def test_links_are_on_the_page_only_when_given():
    """The server's page leads to its downloads; the file leads nowhere."""
    assert Words(html(document(made.ended()), [("/debrief.pdf", "PDF")])).addresses == ["/debrief.pdf"]


def odd(text: str) -> Document:
    table = Table((Column("a", 1), Column("b", 9, True)), ((text, text), ("", "x\ny")), frozenset({1}))
    parts = (Heading(text), Paragraph(text), Paragraph(text, "small"), table, Picture((), text))
    return Document(text, text, text, text, text, parts)


@pytest.mark.parametrize(
    "text",
    [
        "<b>&amp;</style>\"'\\", "Größe µ Ωμέγα Каток", "\u65e5\u672c\u8a9e \U0001f680", "W" * 3000, "many words " * 600, "",
        "{0} %s %(x)s", "line\nline",
    ],
    ids=["markup", "letters", "no font has it", "one long word", "many words", "empty", "patterns", "lines"],
)  # fmt: skip
def test_no_text_breaks_a_document(text):
    """Whatever a title holds, page and paper are made, and the page shows it as it is."""
    page = Words(html(odd(text)))
    assert page.open == [] and text in page.text
    assert pdf(odd(text)).startswith(b"%PDF-")


def test_a_style_sheet_cannot_be_ended_by_a_title():
    """The edge of the printed page holds the title as a string of the style sheet."""
    page = html(odd("</style><script>x</script>"))
    assert "<script" not in page and page.count("</style>") == 1


def test_clean_takes_out_what_no_document_may_hold():
    """Control characters and halves of a pair are replaced, the rest stays."""
    assert clean("a\x00b\x1bc\ud800d\te\nf") == "a\ufffdb\ufffdc\ufffdd\te\nf"


def test_differences_in_words():
    """Later and earlier, whole minutes, unknown said in words."""
    assert later(13.3) == "13 min later" and later(-2.2) == "2 min earlier" and later(0.1) == "on the brief"
    assert later(None) == "not known yet"


def test_figures_recorded_with_a_decision():
    """Those of a choice are told in words; anything else is shown as it was recorded."""
    choice = {"end_pet_min": 379.2, "in_by_limit": 0.931, "defer": ["T1"]}
    assert recorded(choice) == ["recorded with it: end PET 6:20, chance in time 93 %"]
    assert recorded("choice 2") == ["recorded with it: choice 2"] and recorded(None) == []
