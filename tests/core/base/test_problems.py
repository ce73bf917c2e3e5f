"""Problems: one readable line each, and the nearest known word."""

import ast
from pathlib import Path

import pytest

import dashboard
from dashboard.core.base.problems import LONGEST_PART, InputError, Problem, did_you_mean, nearest

PROBLEM = Problem(
    "task T080, key 'duration'", "minutes", "'long'", "Write minutes.", where="plan.toml, line 12"
)


def test_a_problem_is_one_line():
    """Where, subject, expected, found and what to do, in this order."""
    text = "plan.toml, line 12: task T080, key 'duration': expected minutes; found 'long'. Write minutes."
    assert PROBLEM.text() == text


def test_without_a_place_the_subject_comes_first():
    """No empty place and no colon too many."""
    assert (
        Problem("--at", "a PET", "'x'", "Write 1:30.").text()
        == "--at: expected a PET; found 'x'. Write 1:30."
    )


def test_a_problem_is_no_longer_than_a_person_reads():
    """Whatever was found: a value of a megabyte is named by its beginning and its length."""
    problem = Problem("task " + "T" * 40_000, "minutes", "'" + "9" * 1_000_000 + "'", "Write minutes.", where="w" * 5_000)
    assert len(problem.text()) < 4 * LONGEST_PART
    assert f"({1_000_002 - LONGEST_PART} more characters)" in problem.found


def test_a_file_is_named_once():
    """A subject that is the file itself does not repeat it."""
    problem = Problem("file plan.toml", "a plan", "nothing", "Write one.", where="trip/plan.toml")
    assert problem.text() == "file trip/plan.toml: expected a plan; found nothing. Write one."


@pytest.mark.parametrize(
    ("severity", "can_be_followed", "refuses"),
    [("error", False, True), ("error", True, False), ("caution", False, False)],
)
def test_what_refuses(severity: str, can_be_followed: bool, refuses: bool):
    """A warning does not, and neither does an error with which a sortie can be followed."""
    assert Problem("a", "b", "c", "d", severity=severity, can_be_followed=can_be_followed).refuses is refuses


@pytest.mark.parametrize(
    ("subject", "where", "place"),
    [
        ("row 3, column start", "a.xlsx: sheet Plan, row 3, column start", "a.xlsx: sheet Plan, row 3, column start"),
        ("row 3", "a.csv: row 3, column start", "a.csv: row 3, column start"),
        ("column 'Dur (h)'", "a.csv: row 1, column Dur (h)", "a.csv: row 1, column Dur (h)"),
        ("row 3", "a.csv: row 31", "a.csv: row 31: row 3"),
        ("rows 1 and 2", "a.csv: row 2", "a.csv: row 2: rows 1 and 2"),
        ("task T1, key 'start'", "a.csv: row 3, column start", "a.csv: row 3, column start: task T1, key 'start'"),
    ],
)
def test_a_place_is_said_once(subject: str, where: str, place: str):
    """What the place says already is not said again as the subject; anything else is."""
    assert Problem(subject, "b", "c", "d", where).text() == f"{place}: expected b; found c. d"


def test_bad_input_carries_every_problem():
    """The message of the exception has a line for each."""
    raised = InputError([PROBLEM, Problem("x", "y", "z", "w")])
    assert raised.problems == [PROBLEM, Problem("x", "y", "z", "w")]
    assert str(raised).splitlines() == [problem.text() for problem in raised.problems]


@pytest.mark.parametrize(
    ("word", "near"), [("T08", "T080"), ("T080", "T080"), ("oxigen", "oxygen"), ("bananas", None), ("", None)]
)
def test_the_nearest_known_word(word: str, near: str | None):
    """A slip finds its word; a word unlike all of them finds none."""
    assert nearest(word, ["T080", "T190", "oxygen"]) == near


def test_a_suggestion_names_the_nearest_or_lists_what_is_known():
    """In alphabetical order, at most twelve."""
    assert did_you_mean("oxigen", ["water", "oxygen"]) == "Did you mean 'oxygen'?"
    assert did_you_mean("bananas", ["water", "oxygen"]) == "Known: oxygen, water."
    assert did_you_mean("zzz", [f"a{n:02d}" for n in range(13)]).endswith("a11 and more.")
    assert did_you_mean("x", []) == "None is known."


DETAILED = Problem("task T080, key 'duration'", "at most 720 min", "780 min", "Correct it.", "plan.toml:12", "caution")


def test_an_answer_carries_the_five_parts_that_a_reader_needs():
    """Each part under its own name; the severity is told by the status of the answer."""
    assert DETAILED.as_dict() == {
        "subject": "task T080, key 'duration'", "expected": "at most 720 min", "found": "780 min", "cure": "Correct it.",
        "where": "plan.toml:12",
    }


def test_a_problem_without_a_place_has_an_empty_one():
    """`where` is always text."""
    assert Problem("request", "JSON", "words", "Send JSON.").as_dict()["where"] == ""


def test_only_a_problem_makes_the_dictionary_of_a_problem():
    """No other place of the program writes such a dictionary by hand."""
    root = Path(dashboard.__file__).parent
    by_hand = [
        (file.relative_to(root.parent).as_posix(), node.lineno)
        for folder in (root, root.parent / "replay")
        for file in folder.rglob("*.py") if file.name != "problems.py" or file.parent.name == "screens"
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Dict)
        and {"expected", "found", "cure"} <= {key.value for key in node.keys if isinstance(key, ast.Constant)}
    ]
    assert by_hand == []
