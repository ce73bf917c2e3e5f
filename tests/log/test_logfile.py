"""A log is read line by line: what cannot be understood is kept with the reason, and stops nothing else."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.base.findings import Unread
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from dashboard.log.logfile import read_log
from dashboard.log.logfile_writer import write_log
from tests.problems import assert_problem, the_only
from tests.scenario import plan_of, task

PLAN: Plan = plan_of(task("T010", "EV1", 0, 30) + task("T020", "EV1 EV2", 30, 30))
CLOCK = '{"id": "e1", "at": "2031-04-12T09:10:00Z", "kind": "clock"}'
START = '{"id": "e2", "at": "2031-04-12T09:11:00Z", "kind": "start", "task": "T010", "by": "room"}'
DONE = '{"id": "e3", "at": "2031-102T09:40:00Z", "kind": "done", "task": "T010"}'


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where the log of a test is written."""
    return tmp_path / "run.jsonl"


def read(file: Path, *lines: str | bytes) -> tuple[list[Any], list[Unread]]:
    """The events and the unread lines of a log with these lines."""
    file.write_bytes(b"\n".join(line if isinstance(line, bytes) else line.encode() for line in lines))
    log = read_log(file, PLAN)
    return log.events, log.unread


def refused(file: Path, content: str | bytes) -> Problem:
    """The problem with which a whole file is refused."""
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as wrong:
        read_log(file, PLAN)
    return the_only(wrong.value.problems)


# --- JSON Lines -----------------------------------------------------------------------------------


def test_events_come_in_the_order_of_the_file_with_the_line_as_seq(file: Path) -> None:
    """Blank lines count as lines; a `seq` that an event gives stands."""
    events, unread = read(file, CLOCK, "", START.replace("}", ', "seq": 70}'), DONE + "\r", "")
    assert [(event.kind, event.seq) for event in events] == [("clock", 1), ("start", 70), ("done", 4)]
    assert unread == []


def test_both_kinds_of_time_code_are_one_instant(file: Path) -> None:
    """2031-102 is the 12th of April."""
    events, _ = read(file, DONE)
    assert events[0].at.isoformat() == "2031-04-12T09:40:00+00:00"


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('{"id": "x", "at": ', "not JSON: expecting value (column 19)"),
        ("some words", "not JSON"),
        ("[1, 2]", "found a list"),
        ('"text"', "found text"),
        ("17", "found a number"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "strat", "task": "T010"}', "Did you mean 'start'?"),
        ('{"id": "x", "at": "2031-04-12T09:10:00", "kind": "clock"}', "a time with its zone"),
        ('{"id": "x", "at": "2031-02-30T09:10:00Z", "kind": "clock"}', "a real date and time"),
        ('{"at": "2031-04-12T09:10:00Z", "kind": "clock"}', "id: expected a value; found none"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "done"}', "task: expected a value; found none"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "done", "task": "T010", "tsk": 1}',
         "tsk: expected no such key"),
        ('{"id": "x", "id": "y", "at": "2031-04-12T09:10:00Z", "kind": "clock"}', "each key once; found 'id' twice"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "reading", "suit": "A", "oxygen": NaN}', "found NaN"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "reading", "suit": "A", "oxygen": 1e999}', "finite number"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "note", "text": "\\ud800"}', "half a character"),
        ('{"id": "x", "at": "2031-04-12T09:10:00Z", "kind": "decision", "text": ""}', "what was decided, in words"),
        ('{"id": "x", "a": ' + "[" * 30000 + "]" * 30000 + "}", "nested too deep"),
        ('{"id": "x", "a": ' + "9" * 5000 + "}", "cannot be read"),
        ('{"id": "x\0"}', "a NUL byte at column 10"),
    ],
)
def test_a_line_that_cannot_be_understood_is_kept_with_the_reason(file: Path, line: str, why: str) -> None:
    """Verbatim, with its line; the lines around it are read."""
    events, unread = read(file, CLOCK, "", line, DONE)
    assert [event.kind for event in events] == ["clock", "done"]
    assert [(entry.line, entry.where) for entry in unread] == [(line, "line 3")]
    assert why in unread[0].why


def test_a_line_in_another_encoding_costs_that_line_only(file: Path) -> None:
    """The byte is named; the rest of the room's log is read."""
    events, unread = read(file, CLOCK, b'{"id": "x", "note": "Caf\xe9"}', DONE)
    assert len(events) == 2
    assert unread == [
        Unread(line='{"id": "x", "note": "Caf\\xe9"}', where="line 2",
               why="expected UTF-8; found byte 0xe9 at byte 24 of the line")
    ]


def test_separators_inside_text_do_not_break_a_line(file: Path) -> None:
    """Only a line feed ends a line, whatever else a pasted text holds."""
    text = "one\u2028two\u0085three\x0b"
    events, unread = read(file, json.dumps({"id": "n", "at": "2031-04-12T09:10:00Z", "kind": "note", "text": text},
                                           ensure_ascii=False).replace("\x0b", "\\u000b"))
    assert (events[0].text, unread) == (text, [])


@given(st.lists(st.text(st.characters(blacklist_categories=["Cs"]), max_size=30), max_size=20))
def test_whatever_stands_between_two_events_both_are_read(
    tmp_path_factory: pytest.TempPathFactory, junk: list[str]
) -> None:
    """No line of any text hides another, and none is lost."""
    lines = [part for text in junk for part in text.split("\n")]
    file = tmp_path_factory.mktemp("junk") / "run.jsonl"
    events, unread = read(file, CLOCK, *lines, DONE)
    assert [event.id for event in events] == ["e1", "e3"]
    kept = [line.removesuffix("\r") for line in lines if line.encode().strip()]
    assert [entry.line for entry in unread] == kept


# --- the same id twice ----------------------------------------------------------------------------


def test_the_same_event_twice_is_one_event(file: Path) -> None:
    """Keys in another order, another way to write the time, another `received`: the same content."""
    again = (
        '{"kind": "done", "received": "2031-04-12T10:00:00Z", "task": "T010", "id": "e3", "at": "2031-04-12T09:40:00Z"}'
    )
    events, unread = read(file, DONE, again, DONE)
    assert ([event.id for event in events], unread) == (["e3"], [])


def test_the_same_id_with_other_content_is_kept_unread(file: Path) -> None:
    """The first stands; the second is told with the field that differs."""
    other = DONE.replace("09:40", "09:45")
    events, unread = read(file, DONE, other)
    assert [event.at.minute for event in events] == [40]
    assert (unread[0].line, unread[0].where) == (other, "line 2")
    assert "a second one that differs in 'at' (the first, seq 1, stands)" in unread[0].why


# --- another sortie -------------------------------------------------------------------------------


def test_a_line_of_another_sortie_is_kept_unread(file: Path) -> None:
    """It does not count, and is not lost."""
    events, unread = read(file, CLOCK.replace("}", ', "sortie": "t"}'), DONE.replace("}", ', "sortie": "u"}'))
    assert [event.id for event in events] == ["e1"]
    assert unread[0].why == "expected an event of sortie 't'; found one of 'u'"


def test_a_log_of_another_sortie_throughout_is_refused(file: Path) -> None:
    """The wrong file was named."""
    problem = refused(file, "\n".join(line.replace("}", ', "sortie": "u"}') for line in (CLOCK, DONE)))
    assert_problem(problem, subject="run.jsonl", expected="a log of sortie 't'", found="a log of sortie 'u'",
                   cure="Choose the plan of that sortie")


# --- files that are no log at all -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "found", "cure"),
    [
        (b"", "an empty file", "saved in full"),
        (b"\n \n", "an empty file", "saved in full"),
        (b"SQLite format 3\0\0", "a binary file (a NUL byte at byte 15)", "text file"),
        (CLOCK.encode("utf-16"), "text in UTF-16", "UTF-8"),
        (b"Caf\xe9 log\n\xe9", "line 1: expected UTF-8; found byte 0xe9 at byte 3 of the line", "one JSON object"),
        (b"some words\nand more\n", "no line that can be read; line 1", "one JSON object per line"),
        (f"[{CLOCK},\n{DONE}]".encode(), "no line that can be read; line 1", "one JSON object per line"),
        (b"id,at,kind\n", "no event", "one JSON object per line"),
        (b"[sortie]\nid = 't'\n[[task]]\n", "a plan file", "Give the log"),
        (b"noise\n" * 400_000, "no line that can be read; line 1", "one JSON object per line"),
        (os.urandom(51) * 1_000_000, "51.0 MB", "the right file"),
    ],
)
def test_a_file_that_cannot_be_a_log_is_refused(file: Path, content: bytes, found: str, cure: str) -> None:
    """Said so in one line, with the first reason."""
    assert_problem(refused(file, content), subject="run.jsonl", expected="an event log (JSON Lines or CSV)",
                   found=found, cure=cure, where=str(file))


def test_a_missing_log_and_a_folder_are_told(file: Path) -> None:
    """The path is wrong, and how."""
    for path, found in ((file, "no such file"), (file.parent, "a folder")):
        with pytest.raises(InputError) as wrong:
            read_log(path, PLAN)
        assert_problem(the_only(wrong.value.problems), subject=path.name, expected="an event log", found=found, cure="")


# --- CSV ------------------------------------------------------------------------------------------


HEADER = "id,at,kind,task,tasks,lanes,text,trim,defer,all,oxygen,suit"


def test_csv_rows_are_events(file: Path) -> None:
    """Lists by spaces, nested values as JSON, empty cells absent; recognised by its header whatever its name."""
    events, unread = read(
        file, HEADER,
        "e1,2031-04-12T09:10:00Z,clock,,,,,,,,,",
        "e2,2031-04-12T09:11:00Z,start,T020,,EV1 EV2,,,,,,",
        "e3,2031-04-12T09:12:00Z,defer,,T010 T020,,,,,,,",
        'e4,2031-04-12T09:13:00Z,decision,,,,"cut it, now","{""T010"": 20}",T020,,,',
        "e5,2031-04-12T09:14:00Z,hold,,,,,,,true,,",
        "e6,2031-04-12T09:15:00Z,reading,,,,,,,,0.41,A",
        'e7,2031-04-12T09:16:00Z,add,"{""id"": ""N1"", ""lanes"": [""EV1""], ""duration"": [5, 6, 9]}",,,,,,,,',
    )
    assert unread == []
    assert [event.kind for event in events] == ["clock", "start", "defer", "decision", "hold", "reading", "add"]
    _, start, defer, decision, hold, reading, add = events
    assert (start.lanes, defer.tasks, hold.all) == (("EV1", "EV2"), ("T010", "T020"), True)
    assert (decision.text, decision.trim, decision.defer) == ("cut it, now", {"T010": 20}, ("T020",))
    assert (reading.oxygen, add.task.duration.high, add.seq) == (0.41, 9, 8)


def test_a_cell_may_run_over_lines(file: Path) -> None:
    """The next event is found after it, and the line is that of its first."""
    events, unread = read(file.with_suffix(".csv"), "id,at,kind,text",
                          'n1,2031-04-12T09:10:00Z,note,"one', 'two ""2"""', "n2,2031-04-12T09:10:00Z,note,three")
    assert ([(event.text, event.seq) for event in events], unread) == ([('one\ntwo "2"', 2), ("three", 4)], [])


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ('n1,2031-04-12T09:10:00Z,note,"never closed', "a row of CSV; found unexpected end of data"),
        ('n1,2031-04-12T09:10:00Z,note,"a" b', "a row of CSV"),
        ("n1,2031-04-12T09:10:00Z,note,text,more", "4 cells, as in the header; found 5"),
        ("n1,yesterday,note,text", "an instant"),
        ("n1,2031-04-12T09:10:00Z,nite,text", "Did you mean 'note'?"),
    ],
)
def test_a_row_that_cannot_be_understood_costs_that_row_only(file: Path, row: str, why: str) -> None:
    """An open quote does not swallow the rest of the log."""
    last = 'n9,2031-04-12T09:11:00Z,note,"the ""end"""'
    events, unread = read(file, "id,at,kind,text", row, *["n2,2031-04-12T09:10:00Z,note,5/8\" bolt"] * 2, last)
    assert [event.text for event in events] == ['5/8" bolt', 'the "end"']
    assert [(entry.line, entry.where) for entry in unread] == [(row, "line 2")]
    assert why in unread[0].why


def test_a_row_beyond_the_limits_costs_that_row_only(file: Path) -> None:
    """A cell that is too long and a row of too many cells are kept with the reason."""
    long, wide = f"n1,2031-04-12T09:10:00Z,note,{'x' * 140_000}", f"n2,2031-04-12T09:10:00Z,note,{',x' * 300}"
    events, unread = read(file, "id,at,kind,text", long, wide, "n3,2031-04-12T09:10:00Z,note,stands")
    assert ([event.text for event in events], [entry.line for entry in unread]) == (["stands"], [long, wide])
    assert "limit (131072)" in unread[0].why and "at most 200 cells; found 304" in unread[1].why


def test_an_unknown_column_with_a_value_is_told(file: Path) -> None:
    """Nothing in a row is passed over in silence; an empty cell says nothing."""
    events, unread = read(file, "id,at,kind,tsk", "e1,2031-04-12T09:10:00Z,clock,", "e2,2031-04-12T09:10:00Z,clock,T1")
    assert len(events) == 1
    assert "tsk: expected no such key" in unread[0].why


def test_semicolons_separate_as_well(file: Path) -> None:
    """Spreadsheets of many countries write CSV with semicolons."""
    events, unread = read(file, "id;at;kind;text", "n1;2031-04-12T09:10:00Z;note;one, two")
    assert ([event.text for event in events], unread) == (["one, two"], [])


# --- writing --------------------------------------------------------------------------------------


EVENTS: list[dict[str, Any]] = [
    {"kind": "clock", "by": "room", "received": "2031-04-12T09:10:01.250Z", "seq": 12},
    {"kind": "start", "task": "T020", "lanes": ["EV1"]},
    {"kind": "hold", "task": "all", "reason": 'leak, or "leak"'},
    {"kind": "decision", "text": "cut\nshort", "defer": ["T010"], "trim": {"T020": "0:25"},
     "chosen": {"why": [1, None]}},
    {"kind": "decision", "text": "keep", "chosen": "the second"},
    {"kind": "add", "task": {"id": "N1", "lanes": ["EV1"], "duration": [1, 2.5, 4], "follows": ["T010"], "value": 0}},
    {"kind": "amend", "event": "e1", "changes": {"task": "T010", "note": None}},
    {"kind": "amend", "event": "e1", "reason": "typing"},
    {"kind": "reading", "suit": "A", "oxygen": 0, "water": 1.25},
    {"kind": "note", "text": "{not json} Überschuß 漢 \u2028"},
    {"kind": "choose", "alternative": "ending", "option": "out side"},
    {"kind": "move", "task": "T010", "lane": "EV2", "before": "T020"},
]


@pytest.mark.parametrize("ending", [".jsonl", ".csv"])
def test_what_is_written_reads_as_the_same_events(file: Path, ending: str) -> None:
    """Every kind of field survives both formats."""
    events = [
        parse_event({"id": f"e{n}", "at": "2031-04-12T09:10:00.5Z", "seq": n, **event})
        for n, event in enumerate(EVENTS)
    ]
    file = file.with_suffix(ending)
    write_log(events, file)
    log = read_log(file, PLAN)
    assert (log.events, log.unread) == (events, [])
    assert os.listdir(file.parent) == [file.name]


def test_unread_lines_are_carried_along(file: Path) -> None:
    """An export of what the room has loses nothing."""
    events, unread = read(file, CLOCK, "some words", DONE)
    write_log(events, file, unread)
    again = read_log(file, PLAN)
    assert [event.id for event in again.events] == ["e1", "e3"]
    assert [entry.line for entry in again.unread] == ["some words"]


def test_a_place_that_cannot_be_written_is_told(file: Path) -> None:
    """Nothing is half written."""
    with pytest.raises(InputError) as wrong:
        write_log([], file.parent / "no" / "run.jsonl")
    assert_problem(the_only(wrong.value.problems), subject="run.jsonl", expected="a place to write the log",
                   found="No such file or directory", cure="another folder")
