"""What the lines of a feed say."""

from __future__ import annotations

import json

import pytest

from dashboard.log.store import Quarantined
from dashboard.service.feeds.entries import Entry, Reader
from dashboard.service.feeds.lines import Line, Lines

READING = '{"kind": "reading", "at": "2031-04-12T10:00:00Z", "suit": "A", "oxygen": 0.4}'
CHECK = '{"kind": "note", "text": "Radio check"}'
HEADER = "id,at,kind,text"


def lines(*texts: str) -> list[Line]:
    return Lines().add("".join(f"{text}\n" for text in texts).encode())


def read(*texts: str, source: str = "crew.jsonl") -> list[Entry]:
    return Reader("crew.jsonl", source).entries(lines(*texts))


def ids(entries: list[Entry]) -> list[str]:
    return [entry.item["id"] for entry in entries if isinstance(entry.item, dict)]


def test_an_entry_keeps_its_own_id_and_gets_one_where_it_lacks_it():
    """The rest stands as it came."""
    own, lacking = read('{"id": "x1", "by": "EV1", "kind": "note", "text": "a"}', READING)
    assert own.item == {"id": "x1", "by": "EV1", "kind": "note", "text": "a"}
    assert lacking.item["id"].startswith("feed-")
    assert {**json.loads(READING), "id": lacking.item["id"]} == lacking.item


def test_reading_a_source_once_more_gives_the_same_ids():
    """Also when it holds more by then, and when entries without a time are alike."""
    before, after = read(CHECK, READING, CHECK), read(CHECK, READING, CHECK, CHECK)
    assert len(set(ids(after))) == 4
    assert ids(after)[:3] == ids(before)


def test_entries_of_another_source_or_of_a_file_that_begins_otherwise_are_others():
    """An entry with neither id nor time is known by its content, its source, and how the file begins."""
    assert set(ids(read(CHECK))).isdisjoint(ids(read(CHECK, source="other.jsonl")))
    assert ids(read(READING, CHECK))[1] != ids(read(CHECK))[0]


def test_the_same_line_with_the_same_time_is_the_same_entry():
    """A reading that is repeated word for word counts once."""
    first, second = ids(read(READING, READING))
    assert first == second


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("not json", "found text that is not JSON"),
        ("[1]", "found a list"),
        ('{"kind": "dance"}', "a known 'kind'"),
        ('{"kind": "note", "text": "a", "at": "noon"}', "at: expected"),
        ('{"kind": "note", "text": "a", "id": 7}', "id: expected"),
        ('{"kind": "reading", "suit": "A", "oxygen": 1e999}', "finite"),
    ],
)
def test_what_is_no_event_is_kept_word_for_word_with_its_place(text: str, why: str):
    """The entries around it stand."""
    before, bad, after = read(READING, text, CHECK)
    assert isinstance(before.item, dict) and isinstance(after.item, dict)
    assert isinstance(bad.item, Quarantined) and bad.item.item == text
    assert why in bad.item.why and bad.item.why.endswith("(line 2 of crew.jsonl)")


def test_a_pet_is_a_time():
    """The intake makes an instant of it."""
    (entry,) = read('{"kind": "note", "text": "a", "at": "0:48"}')
    assert entry.item["at"] == "0:48"


def test_csv_is_known_by_its_header_and_may_have_lines_in_quotes():
    """The header is no entry; a row may run over lines; empty cells are no fields."""
    first, second = read(HEADER, 'n1,2031-04-12T10:00:00Z,note,"one', 'two"', "n2,2031-04-12T10:01:00Z,note,three")
    assert first.item == {"id": "n1", "at": "2031-04-12T10:00:00Z", "kind": "note", "text": "one\ntwo"}
    assert second.item["text"] == "three" and second.place == "line 4 of crew.jsonl"


def test_a_quote_that_is_not_closed_costs_its_own_line_only():
    """When nothing more comes, the lines that waited for it are read."""
    reader = Reader("crew.csv", "crew.csv", csv=True)
    assert reader.entries(lines(HEADER, 'n1,2031-04-12T10:00:00Z,note,"one', "n2,2031-04-12T10:01:00Z,note,three")) == []
    bad, good = reader.settle()
    assert isinstance(bad.item, Quarantined) and "line 2 of crew.csv" in bad.item.why
    assert good.item["id"] == "n2" and reader.settle() == []
    many = [f'n{n},2031-04-12T10:00:00Z,note,{"x" if n else chr(34)}' for n in range(30)]
    found = Reader("crew.csv", "crew.csv", csv=True).entries(lines(HEADER, *many))
    assert len(found) >= 20 and isinstance(found[0].item, Quarantined) and isinstance(found[1].item, dict)


def test_a_line_that_is_too_long_is_kept_up_to_the_limit():
    """It does not become a part of the next one."""
    long = '{"kind": "note", "text": "' + "x" * 200_000 + '"}'
    bad, good = read(long, CHECK)
    assert isinstance(bad.item, Quarantined) and "131072 bytes; found one of 200028" in bad.item.why
    assert isinstance(good.item, dict)


def test_a_byte_order_mark_and_empty_lines_are_no_entries():
    """Windows programs write both."""
    assert len(Reader("a", "a").entries(Lines().add(b"\xef\xbb\xbf" + CHECK.encode() + b"\r\n\r\n"))) == 1
