"""Files that cannot be what they should be are refused with the reason."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.textfile import read_text, wrong_ending
from tests.problems import assert_problem, the_only


def test_what_has_no_size_is_read_no_further_than_the_limit():
    """A device that never ends is refused before it takes the memory of the computer."""
    with pytest.raises(InputError) as wrong:
        read_text(Path("/dev/zero"), "a plan file", 0.1)
    assert_problem(the_only(wrong.value.problems), subject="zero", expected="at most 0.1 MB", found="MB", cure="right file")


def test_a_folder_of_a_path_that_is_a_file_is_told_as_such(tmp_path: Path):
    """Not as a folder that does not exist."""
    (tmp_path / "plan.toml").write_text("x")
    with pytest.raises(InputError) as wrong:
        read_text(tmp_path / "plan.toml" / "x.toml", "a plan file", 1)
    assert_problem(the_only(wrong.value.problems), subject="x.toml", expected="a plan file", found="no such file",
                   cure="plan.toml is a file, not a folder")


@pytest.mark.parametrize(("name", "found"), [("plan.ods", "'.ods'"), ("plan", "no ending")])
def test_a_wrong_ending_is_refused_with_those_that_may_be(name: str, found: str):
    """Also where there is none."""
    problem = the_only(wrong_ending(Path(name), (".toml", ".csv", ".xlsx"), "Choose one.").problems)
    assert_problem(problem, subject=name, expected=".toml, .csv or .xlsx", found=found, cure="Choose one")
