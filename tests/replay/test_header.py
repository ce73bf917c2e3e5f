"""The header of a run: what it may say, and how it is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from replay.header import SETTINGS, header_text, read_header
from tests.problems import assert_problem, the_only


def header(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "run.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("line", "subject", "expected", "found", "cure"),
    [
        ('setting = "moon"', "key 'setting'", ", ".join(SETTINGS), "'moon'", "pool"),
        ('setting = "Pool"', "key 'setting'", "one of pool", "'Pool'", "Did you mean 'pool'?"),
        ('seting = "pool"', "key 'seting'", "a key of the header", "'seting'", "Did you mean 'setting'?"),
        ("date = true", "key 'date'", "a day such as", "true", "Correct it"),
        ('date = "2 March"', "key 'date'", "a day such as", "'2 March'", "Correct it"),
        ("title = 7", "key 'title'", "text in quotes", "'7'", "Correct it"),
        ('from = "late"', "key 'from'", "an instant such as", "'late'", "Correct it"),
        ("[notes]\na = 1", "key 'notes'", "text in quotes", "a", "Correct it"),
    ],
)
def test_a_wrong_key_or_value_is_refused_at_its_line(
    tmp_path: Path, line: str, subject: str, expected: str, found: str, cure: str
):
    """As in a plan: what was expected, what was found, where, and the nearest known name."""
    path = header(tmp_path, f"# a run\n{line}\n")
    with pytest.raises(InputError) as refused:
        read_header(path)
    problem = the_only(refused.value.problems)
    assert_problem(problem, subject=subject, expected=expected, found=found, cure=cure, where=f"{path}:2")


def test_every_wrong_key_is_said_at_once(tmp_path: Path):
    """Not one after the other."""
    with pytest.raises(InputError) as refused:
        read_header(header(tmp_path, 'seting = "pool"\ndate = true\n'))
    assert len(refused.value.problems) == 2


def test_a_sound_header_reads_back_as_it_was_written(tmp_path: Path):
    """A day may stand with or without quotes; nothing at all is no header."""
    words = {"title": "Pool run 3", "setting": "pool", "date": "2031-03-02", "parent": "Run 2", "from": "2031-03-02T11:15:00Z"}
    assert read_header(header(tmp_path, header_text(words))) == words
    assert read_header(header(tmp_path, "date = 2031-03-02\n")) == {"date": "2031-03-02"}
    assert read_header(header(tmp_path, "")) == read_header(tmp_path / "none.toml") == {}
