"""Logs kept in a spreadsheet: what is taken, what is offered, and what is kept word for word."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.log_sheet import Unmatched, read_log_sheet
from dashboard.log.log_sheet_options import SheetOptions, pairs_of
from dashboard.log.log_sheet_words import NO_EVENT, NO_TASK
from tests.problems import assert_problem, the_only
from tests.scenario import plan_of, task

PLAN = plan_of(
    task("T010", "EV1", 0, 30, title="Unstow pump")
    + task("T020", "EV1", 30, 30, title="Carry pump, slowly")
    + task("T030", "EV2", 0, 60, title="Prepare tray")
    + task("T040", "EV1", 60, 30, title="Photos")
    + task("T041", "EV2", 60, 30, title="Photos")
)
PET = SheetOptions(times="pet")


def csv(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    return path


def read(tmp_path: Path, rows: str, how: SheetOptions = PET, head: str = "time,who,what,text"):
    return read_log_sheet(csv(tmp_path, f"{head}\n{rows}"), PLAN, how)


def said(log) -> list[tuple]:
    return [
        (e.kind, getattr(e, "task", getattr(e, "text", None)), e.at.strftime("%H:%M")) for e in log.events
    ]


def test_time_who_what_and_text_become_events(tmp_path: Path):
    """By the name of the task or its exact title, the verb before or behind, in any case."""
    log = read(
        tmp_path,
        "0:00,EV1,Start T010,on time\n0:31,EV1,unstow pump complete,\n0:32,EV1,started: Carry pump slowly,\n"
        "0:40,EV1,Hold T020,strap loose\n0:45,EV1,resumed T020 Carry pump slowly,\n"
        "0:50,room,broke off T020,\n1:00,room,end of sortie,",
    )
    assert said(log)[1:] == [
        ("start", "T010", "09:10"),
        ("done", "T010", "09:41"),
        ("start", "T020", "09:42"),
        ("hold", "T020", "09:50"),
        ("resume", "T020", "09:55"),
        ("break_off", "T020", "10:00"),
        ("end", None, "10:10"),
    ]
    assert (log.events[1].by, log.events[1].note, log.events[4].reason) == ("EV1", "on time", "strap loose")
    assert (log.unmatched, log.unread) == ([], [])


def test_the_verb_may_stand_alone_and_the_task_in_the_text(tmp_path: Path):
    """What: done. Text: the title."""
    assert said(read(tmp_path, "0:31,EV1,Done,Unstow pump"))[1:] == [("done", "T010", "09:41")]


def test_a_close_title_is_offered_and_not_taken(tmp_path: Path):
    """It stays a note, word for word, with the remark as its note; taken only when told to."""
    log = read(tmp_path, "0:00,EV1,Start Unstow pmp,quickly")
    assert log.events[1].note == "quickly"
    assert said(log)[1:] == [("note", "Start Unstow pmp", "09:10")]
    assert log.unmatched == [Unmatched(2, "Unstow pmp", NO_TASK, ("T010",))]
    told = read(
        tmp_path, "0:00,EV1,Start Unstow pmp,quickly", SheetOptions(times="pet", matches={"unstow pmp": "T010"})
    )
    assert said(told)[1:] == [("start", "T010", "09:10")]


def test_a_title_of_two_tasks_names_neither(tmp_path: Path):
    """Both are offered."""
    assert read(tmp_path, "1:00,EV1,Start photos,").unmatched == [
        Unmatched(2, "photos", NO_TASK, ("T040", "T041"))
    ]


def test_a_sentence_that_only_mentions_a_task_is_a_note(tmp_path: Path):
    """An exact name beside other words is no match."""
    log = read(tmp_path, "0:30,EV1,Started towards T020 with a loose strap,\n0:31,EV1,Looks good at T030,")
    assert [e.kind for e in log.events[1:]] == ["note", "note"]
    assert [one.row for one in log.unmatched] == [2, 3]
    assert log.unmatched[1].why == f"names T030, but {NO_EVENT}"


def test_a_row_without_a_time_is_kept_word_for_word(tmp_path: Path):
    """With its row and the reason; the rows around it stand."""
    log = read(
        tmp_path,
        "0:00,EV1,Start T010,\nabout ten past,EV1,Start T030,in a hurry\n,EV2,looked around,\n0:05,EV1,Radio check,",
    )
    assert [e.kind for e in log.events] == ["clock", "start", "note"]
    assert [(line.where, line.line) for line in log.unread] == [
        ("row 3", "about ten past | EV1 | Start T030 | in a hurry"),
        ("row 4", " | EV2 | looked around | "),
    ]
    assert "clock time" in log.unread[0].why and "empty cell" in log.unread[1].why


def test_no_cell_is_lost(tmp_path: Path):
    """Other columns, and cells beyond the header, go into the note under their names."""
    log = read(tmp_path, "0:00,Start T010,17,,stray\n0:02,Radio check,,", PET, head="time,what,Photo")
    assert log.events[1].note == "Photo: 17; column E: stray"
    assert (log.events[2].text, log.events[2].note) == ("Radio check", None)


def test_columns_go_by_common_names_and_can_be_named(tmp_path: Path):
    """Semicolons as well; a column named PET says what its times are."""
    log = read(tmp_path, "0:02;EV2;Begin Prepare tray;x", SheetOptions(), head="PET;Caller;Event;Remarks")
    assert (said(log)[1], log.events[1].by, log.events[1].note) == (("start", "T030", "09:12"), "EV2", "x")
    named = SheetOptions({"time": "T+", "what": "Vorgang"}, "pet")
    assert said(read(tmp_path, "0:02,Start T030", named, head="T+,Vorgang"))[1] == ("start", "T030", "09:12")


@pytest.mark.parametrize(
    ("head", "how", "words"),
    [
        ("time,who,text", PET, "column for 'what'"),
        ("time,at,what", PET, "2: time, at"),
        ("time,what", SheetOptions({"what": "wath"}, "pet"), "Did you mean 'what'?"),
        ("time,what", SheetOptions({"when": "time"}, "pet"), "one of time, who, what, text"),
        ("time,what", SheetOptions(), "Give --times pet or --times utc."),
        ("time,what", SheetOptions(times="pet", matches={"pump": "T999"}), "the name of a task or contingency of the plan"),
    ],
)
def test_what_would_have_to_be_guessed_is_asked(tmp_path: Path, head: str, how: SheetOptions, words: str):
    """A missing or doubtful column, and what a clock time means."""
    with pytest.raises(InputError, match=words.replace("?", r"\?")):
        read(tmp_path, "0:00,Start T010,x", how, head=head)


def test_times_of_day_count_from_the_day_and_over_midnight(tmp_path: Path):
    """The step over midnight is said."""
    how = SheetOptions(times="utc", day=dt.date(2031, 3, 2), pet_zero="23:50")
    log = read(tmp_path, "23:58,EV1,Start T010,\n0:20,EV1,Done T010,", how)
    assert [(e.kind, e.at.isoformat()) for e in log.events] == [
        ("clock", "2031-03-02T23:50:00+00:00"),
        ("start", "2031-03-02T23:58:00+00:00"),
        ("done", "2031-03-03T00:20:00+00:00"),
    ]
    assert any("taken as a time of the next day" in line for line in log.remarks)


def test_pet_zero_that_nobody_gives_is_said(tmp_path: Path):
    """By PET it is the planned time of day; by UTC there is none."""
    assert "the planned time of day" in read(tmp_path, "0:00,EV1,Start T010,").remarks[0]
    by_utc = read(tmp_path, "9:12,EV1,Start T010,", SheetOptions(times="utc"))
    assert [e.kind for e in by_utc.events] == ["start"]
    assert "No row gives PET zero" in by_utc.remarks[0]
    given = read(tmp_path, "9:08,room,PET zero,\n9:12,EV1,Start T010,", SheetOptions(times="utc"))
    assert (given.events[0].kind, given.remarks) == ("clock", [])


@pytest.mark.parametrize("given", ["25:00", "9:60", "-9:07", "547", "9:07:60", "nine"])
def test_pet_zero_that_is_no_time_of_day_is_refused(tmp_path: Path, given: str):
    """Hours over 23 and minutes over 59 among them."""
    with pytest.raises(InputError) as refused:
        read(tmp_path, "9:12,EV1,Start T010,", SheetOptions(times="utc", pet_zero=given))
    assert_problem(the_only(refused.value.problems), subject="--pet-zero", expected="0:00 to 23:59", found=given, cure="9:07")


def test_a_spreadsheet_gives_the_same_as_its_text(tmp_path: Path):
    """Its times of day, durations and numbers are read as what they are."""
    book = openpyxl.Workbook()
    rows = [
        ("Time", "Who", "What", "Notes"),
        (dt.time(0, 0), "EV1", "Start T010", None),
        (dt.time(0, 31), "EV1", "Done T010", 7.0),
        (dt.timedelta(hours=25), "EV1", "Start T020", "late"),
    ]
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "log.xlsx")
    log = read_log_sheet(tmp_path / "log.xlsx", PLAN, PET)
    assert said(log)[1:] == [
        ("start", "T010", "09:10"),
        ("done", "T010", "09:41"),
        ("start", "T020", "10:10"),
    ]
    assert log.events[2].note == "7"


@pytest.mark.parametrize(
    ("name", "data"),
    [("log.xlsx", b"PK\x03\x04 no book"), ("log.xlsx", b"hello"), ("log.csv", b"\x00\x01\x02")],
)
def test_a_file_that_is_no_sheet_is_refused(tmp_path: Path, name: str, data: bytes):
    """With one line that says so."""
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError):
        read_log_sheet(tmp_path / name, PLAN, PET)


def test_pairs_may_stand_in_one_word_or_several():
    """`time=UTC,who=Caller` or each by itself."""
    assert pairs_of("--columns", ["time=UTC,who=Caller", "what = Entry"]) == {
        "time": "UTC",
        "who": "Caller",
        "what": "Entry",
    }
    with pytest.raises(InputError, match="name=value"):
        pairs_of("--columns", ["time"])


def test_headings_are_found_wherever_they_stand(tmp_path: Path):
    """Below a merged title row and a row with PET zero; both are told, and neither is read as headings."""
    book = openpyxl.Workbook()
    page = book.active
    rows = [
        ["Run log, pool run 7"], ["PET 0 = 09:07 UTC", None, None, "Console: A. Person"], [],
        ["When", None, "What", "Remarks"], ["UTC", "Who", None, None],
        [dt.time(9, 12), "EV1", "T010 start", "on time"], [None, "EV2", "T030 start", None],
        [dt.time(9, 40), "EV1", "T010 fin", "ok"],
    ]  # fmt: skip
    for row in rows:
        page.append(row)
    for cells in ("A1:D1", "A4:B4", "A6:A7"):
        page.merge_cells(cells)
    book.save(tmp_path / "log.xlsx")
    log = read_log_sheet(tmp_path / "log.xlsx", PLAN)
    assert [(e.kind, e.at.strftime("%H:%M"), e.note) for e in log.events[1:]] == [
        ("start", "09:12", "on time"), ("start", "09:12", None), ("done", "09:40", "ok"),
    ]
    assert (log.events[0].kind, log.events[0].at.strftime("%H:%M")) == ("clock", "09:07")
    assert (log.unread, log.unmatched) == ([], [])
    told = " ".join(log.remarks)
    assert "Row 1 stands above the headings and is no entry: 'Run log, pool run 7'." in told
    assert "as a row above the headings says" in told


def test_pet_0_in_a_row_sets_pet_zero(tmp_path: Path):
    """A clock event at the time of its row, whatever is said beside it."""
    log = read(tmp_path, "9:08,room,PET 0,suits on battery\n9:12,EV1,Start T010,", SheetOptions(times="utc"))
    assert (log.events[0].kind, log.events[0].note, log.remarks) == ("clock", "suits on battery", [])


def test_an_entry_merged_over_two_rows_is_one_event(tmp_path: Path):
    """Its second row adds a remark; the event is not made twice."""
    book = openpyxl.Workbook()
    for row in (["time", "what", "text"], ["0:31", "Done T010", "ok"], ["0:33", None, "tools stowed"]):
        book.active.append(row)
    book.active.merge_cells("B2:B3")
    book.save(tmp_path / "log.xlsx")
    log = read_log_sheet(tmp_path / "log.xlsx", PLAN, PET)
    assert [(e.kind, e.note or getattr(e, "text", None)) for e in log.events[1:]] == [("done", "ok"), ("note", "tools stowed")]


@pytest.mark.parametrize(
    ("cell", "at"),
    [
        ("1h30", "10:40"), ("1 h 30", "10:40"), ("T+0:45", "09:55"), ("PET+0:45", "09:55"), ("pet 0:45", "09:55"),
        ("0:45 PET", "09:55"), ("+0:45", "09:55"), ("T-0:05", "09:05"), ("T\u22120:05", "09:05"), ("45 min", "09:55"),
        ("PET 1h05", "10:15"), ("09:57 UTC", "09:57"), ("09:57Z", "09:57"), ("PET 0", "09:10"),
    ],
)
def test_times_are_read_as_people_write_them(tmp_path: Path, cell: str, at: str):
    """In a sheet of PETs; what says that it is UTC is UTC."""
    log = read(tmp_path, f"{cell},EV1,Start T010,")
    assert (said(log)[-1], log.unread) == (("start", "T010", at), [])


@pytest.mark.parametrize("cell", ["45", "1.30", "UTC+0:45", "T+45", "1h75", "about 1:30", "T0:45 or so", "1,5"])
def test_times_that_may_be_something_else_are_refused(tmp_path: Path, cell: str):
    """The row is kept word for word, with the forms that are read."""
    log = read(tmp_path, f'0:00,EV1,Start T010,\n"{cell}",EV1,T010 done,')
    assert [(one.where, cell in one.line, '"1h50"' in one.why) for one in log.unread] == [("row 3", True, True)]


def test_a_pet_in_a_sheet_of_utc_counts_from_the_row_that_sets_pet_zero(tmp_path: Path):
    """The word beside the time counts, and the planned start does not. A length in minutes is no time of day."""
    log = read(tmp_path, "9:07,,PET 0,\nT+0:45,EV1,Start T010,\n10h02,EV1,T010 done,\n45 min,EV1,Start T020,",
               SheetOptions(), head="UTC,who,what,text")
    assert said(log) == [("clock", None, "09:07"), ("start", "T010", "09:52"), ("done", "T010", "10:02")]
    assert [one.where for one in log.unread] == ["row 5"]


def test_a_column_for_the_task_and_one_for_what_became_of_it(tmp_path: Path):
    """Both together are the entry; a row with the task alone is listed, and one without a task is as good as any."""
    rows = "0:00,,PET 0,\n0:00,T010,Start,\n0:31,Unstow pump,Done,all good\n0:32,T030,,\n0:40,,comm check,"
    log = read(tmp_path, rows, SheetOptions(), head="PET,Task,Status,Remarks")
    assert said(log) == [
        ("clock", None, "09:10"), ("start", "T010", "09:10"), ("done", "T010", "09:41"), ("note", "T030", "09:42"),
        ("note", "comm check", "09:50"),
    ]  # fmt: skip
    assert log.events[2].note == "all good" and [one.row for one in log.unmatched] == [5]
