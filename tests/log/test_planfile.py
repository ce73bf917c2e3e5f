"""A plan file is read whole, or refused with every problem at its line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.planfile import examine_plan, load_plan
from tests.problems import about, assert_problem, the_only

PLAN = """\
[sortie]
id = "lantern-t"
start = 2031-04-12T09:10:00Z
limit = "7:00"

[[lane]]
id = "EV1"
kind = "crew"
suit = "A"

[[suit]]
id = "A"
oxygen = { loaded = 0.5, reserve = 0.1 }

[[task]]
id = "T010"
lanes = ["EV1"]
start = "0:10"
duration = [20, 30, 50]
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where the plan of a test is written."""
    return tmp_path / "plan.toml"


def examine(file: Path, text: str | bytes) -> list[Problem]:
    """What is found in a plan file with this content."""
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return examine_plan(file)[1]


def test_a_sound_file_is_read(file: Path) -> None:
    """Times in PET, a three-point duration, the suit of the lane."""
    file.write_text(PLAN)
    plan = load_plan(file)
    assert plan.sortie.limit == 420
    assert (plan.tasks[0].start, plan.tasks[0].duration.high) == (10, 50)
    assert plan.suits[0].consumables()["oxygen"].reserve == 0.1
    assert examine_plan(file) == (plan, [])


def test_windows_line_ends_and_a_byte_order_mark_do_not_matter(file: Path) -> None:
    """A file saved on another machine is the same plan."""
    file.write_text(PLAN)
    plan = load_plan(file)
    file.write_bytes(b"\xef\xbb\xbf" + PLAN.replace("\n", "\r\n").encode())
    assert load_plan(file) == plan


def test_warnings_come_with_the_plan(file: Path) -> None:
    """A warning does not refuse the plan, and is not hidden either."""
    file.write_text(PLAN + 'not_before = "0:20"\n')
    plan, problems = examine_plan(file)
    assert plan == load_plan(file)
    assert_problem(the_only(problems), subject="task T010", expected="PET 0:20 or later", found="10 min too early",
                   cure="Start it later", where=f"{file}:18", severity="caution")


@pytest.mark.parametrize(
    ("old", "new", "subject", "expected", "found", "cure", "line"),
    [
        ('limit = "7:00"', 'limmit = "7:00"', "table [sortie], key 'limmit'", "a key of 'sortie'", "'limmit'",
         "Did you mean 'limit'?", 4),
        ('limit = "7:00"\n', "", "table [sortie], key 'limit'", "a value for 'limit'", "none", 'limit = "7:00"', 1),
        ('limit = "7:00"', 'limit = "25:00"', "key 'limit'", "at most 1440", "25:00", "limit", 4),
        ("12T09:10:00Z", "12T09:10:00", "key 'start'", "a time with its zone", "2031-04-12T09:10:00", "UTC", 3),
        ('kind = "crew"', 'kind = "pilot"', "lane EV1, key 'kind'", "one of 'crew', 'arm' or 'other'", "'pilot'",
         "crew", 8),
        ("loaded = 0.5", "loadad = 0.5", "suit A, key 'oxygen.loadad'", "a key of 'oxygen'", "'loadad'",
         "Did you mean 'loaded'?", 13),
        ("reserve = 0.1", "reserve = 0.7", "suit A, key 'oxygen'", "a reserve below what is loaded (0.5)", "0.7",
         "Correct", 13),
        ('start = "0:10"', 'start = "ten"', "task T010, key 'start'", 'minutes (a number) or "H:MM"', "'ten'",
         "1:50", 18),
        ('start = "0:10"', "start = -5", "task T010, key 'start'", "0 or more", "-5", "PET", 18),
        ('start = "0:10"', "start = inf", "task T010, key 'start'", "a finite number", "inf", "PET", 18),
        ("[20, 30, 50]", "[20, 30]", "task T010, key 'duration'", "three values", "2", "[30, 40, 65]", 19),
        ("[20, 30, 50]", "[50, 30, 20]", "task T010, key 'duration'", "low <= likely <= high", "50, 30, 20",
         "[30, 40, 65]", 19),
        ("[20, 30, 50]", "-3", "task T010, key 'duration'", "zero or more", "-3", "duration", 19),
        ('["EV1"]', '"EV1"', "task T010, key 'lanes'", "a list", "'EV1'", 'lanes = ["EV1", "EV2"]', 17),
        ('["EV1"]', "[]", "task T010, key 'lanes'", "at least 1", "[]", "lane names", 17),
        ('["EV1"]', '["EV1", "EV1"]', "task T010, key 'lanes'", "each lane once", "EV1", "lane", 17),
        ('id = "T010"', "id = 10", "task T010"[:4], "text in quotes", "10", "short name", 16),
        ('id = "T010"', 'id = "T 010"', "task T 010, key 'id'", "without spaces", "'T 010'", "short name", 16),
        ('id = "T010"', 'id = "T010"\npriority = 2.5', "key 'priority'", "a whole number", "2.5", "Correct", 17),
        ('id = "T010"', 'id = "T010"\npriority = 0', "key 'priority'", "1 or more", "0", "Correct", 17),
        ('id = "T010"', 'id = "T010"\nrequired = "maybe"', "key 'required'", "true or false", "'maybe'", "Correct", 17),
        ('id = "T010"', 'id = "T010"\nvalue = inf', "key 'value'", "a finite number", "inf", "Correct", 17),
        ('id = "T010"', 'id = "T010"\nworkload = "lazy"', "key 'workload'", "rest, light, moderate, heavy", "'lazy'",
         "watts", 17),
        ('id = "T010"', 'id = "T010"\nshortest = 40', "key 'shortest'", "at most the likely duration (30 min)", "40",
         "Correct", 17),
        ('id = "T010"', 'id = "T010"\nfollows = [{ tsk = "T1" }]', "key 'follows.tsk'", "a key of 'follows'", "'tsk'",
         "Did you mean 'task'?", 17),
        ("[[task]]", "[[tasks]]", "key 'tasks'", "a table of a plan", "'tasks'", "Did you mean 'task'?", 15),
        ("[[task]]", "[task]", "task T010"[:4], "a list", "a table", "[[task]]", 15),
    ],
)
def test_a_wrong_field_is_named_with_its_line(
    file: Path, old: str, new: str, subject: str, expected: str, found: str, cure: str, line: int
) -> None:
    """File and line, table and key, what was expected, what was found, and what to write."""
    problems = examine(file, PLAN.replace(old, new, 1))
    assert_problem(about(problems, subject) if len(problems) > 1 else the_only(problems), subject=subject,
                   expected=expected, found=found, cure=cure, where=f"{file}:{line}")


def test_all_problems_come_at_once_in_the_order_of_the_file(file: Path) -> None:
    """One reading of the list mends the file; fields and cross-checks stand together."""
    text = PLAN.replace("limit =", "limmit =").replace('"0:10"', '"ten"') + "wrklod = 3\n"
    text += '[[task]]\nid = "T020"\nlanes = ["EV9"]\nstart = 50\nduration = 5\nafter = ["T01"]\n'
    lines = [problem.where.rpartition(":")[2] for problem in examine(file, text)]
    assert lines == ["1", "4", "18", "20", "23", "26"]


def test_the_line_of_a_list_entry_is_its_own(file: Path) -> None:
    """In a list over several lines the entry is found, not the key."""
    text = PLAN.replace('lanes = ["EV1"]', 'lanes = [\n  "EV1", # [[lane]]\n  "EV7",\n]')
    assert_problem(the_only(examine(file, text)), subject="task T010, key 'lanes'", expected="a known lane",
                   found="'EV7'", cure="Did you mean 'EV1'?", where=f"{file}:19")


# --- files that are no plan at all ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "found", "cure"),
    [
        (b"", "an empty file", "saved in full"),
        (b" \n\n", "an empty file", "saved in full"),
        (b"\x7fELF\0\0\0", "a binary file (a NUL byte at byte 4)", "text file"),
        (PLAN.encode("utf-16"), "text in UTF-16", "Save it as UTF-8"),
        (b'[sortie]\ntitle = "Caf\xe9"\n', "byte 0xe9 at byte 21 (line 2)", "Save it as UTF-8"),
        (b"\xef\xbb\xbf[sortie]\ntitle = 'Caf\xe9'\n", "byte 0xe9 at byte 24 (line 2)", "Save it as UTF-8"),
        (os.urandom(10) * 1_000_000, "10.0 MB", "the right file"),
        (b"a = " + b"[" * 50_000, "nested too deep", "plan file"),
        (b"a" + b".a" * 500_000 + b" = 1", "500000 dots", "plan file"),
    ],
)
def test_a_file_that_cannot_be_a_plan_is_refused(file: Path, content: bytes, found: str, cure: str) -> None:
    """Empty, binary, in another encoding, far too large, or nonsense: said so in one line."""
    assert_problem(the_only(examine(file, content)), subject="plan.toml", expected="a plan file (TOML)", found=found,
                   cure=cure, where=str(file))


def test_a_missing_file_is_told_with_its_neighbours(file: Path) -> None:
    """A mistyped name is met with the names that are there."""
    (file.parent / "lantern.toml").write_text(PLAN)
    with pytest.raises(InputError) as refused:
        load_plan(file)
    assert_problem(the_only(refused.value.problems), subject="plan.toml", expected="a plan file", found="no such file",
                   cure="In that folder: lantern.toml.")


def test_a_folder_and_a_missing_folder_are_told(file: Path) -> None:
    """The path is wrong, and how."""
    assert_problem(the_only(examine_plan(file.parent)[1]), subject=file.parent.name, expected="a plan file",
                   found="a folder", cure="inside it")
    assert_problem(the_only(examine_plan(file.parent / "no" / "plan.toml")[1]), subject="plan.toml",
                   expected="a plan file", found="no such file", cure="does not exist either")


def test_a_task_sheet_is_not_a_plan_file(file: Path) -> None:
    """A sheet has the tasks only."""
    assert_problem(the_only(examine_plan(file.with_suffix(".csv"))[1]), subject="plan.csv", expected="a plan file",
                   found="a task sheet", cure="a sheet is given separately")


@pytest.mark.parametrize(
    ("line", "found", "cure", "at"),
    [
        ("limit = 7:00", "'limit = 7:00'", 'Put times in quotes: "1:50".', "line 20, column 10"),
        ("limit = ", "'limit ='", "Correct the line", "line 20, column 9"),
        ("[sortie]", "'[sortie]'", "once", "line 20, column 8"),
        ('title = "never closed', "never closed", "Correct the line", "line 20, column 22"),
        ("x = [1, 2", "", "Correct the line", "line 21, end of the file"),
    ],
)
def test_a_line_that_is_not_toml_is_told_with_its_column(file: Path, line: str, found: str, cure: str, at: str) -> None:
    """The line as it stands, and the usual mistake where it is one."""
    problem = the_only(examine(file, PLAN + line + "\n"))
    assert_problem(problem, subject=at, expected="valid TOML", found=found, cure=cure,
                   where=f"{file}:{at.split()[1].strip(',')}")


def test_random_text_is_refused_in_words(file: Path) -> None:
    """Noise of a legal size gets one problem and no trace."""
    problem = the_only(examine(file, "]{=\"'#[[.\n" * 100_000))
    assert_problem(problem, subject="line 1", expected="valid TOML", found="]{=", cure="Correct the line")
