"""A plan file, checked as `tetherline check` does, and the answer in one sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.cli.checked_plan import check_file, finding_json, verdict
from dashboard.core.plan.finding_kinds import FINDING_KINDS
from tests.core.outlook.plans import SOUND
from tests.scenario import task

ANSWERS = {
    "sound": (
        SOUND, "can be used: as briefed over 99 % likely in by the limit with every suit above its reserve; 2 lanes, 6 tasks."
    ),
    "too tight": (SOUND.replace('limit = "7:00"', 'limit = "2:46"'), "promises too little: as briefed "),
    "likely late": (SOUND.replace('limit = "7:00"', 'limit = "2:32"'), "is not ready to be used: as briefed "),
    "short of water": (SOUND.replace("loaded = 9.0", "loaded = 1.0"), "is not ready to be used: as briefed under 1 % likely"),
    "no work for the crew": (
        SOUND.partition("[[task]]")[0] + '[[lane]]\nid = "ARM"\nkind = "arm"\n' + task("A", "ARM", 0, 10), "no work for the crew",
    ),
    "unknown key": (SOUND.replace("duration", "length", 1), "The plan cannot be followed: 2 errors."),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_answer_says_whether_the_plan_can_be_used(tmp_path: Path, name: str):
    """Only when there is no error and the chance is as wanted; it never says so of a hopeless plan."""
    text, says = ANSWERS[name]
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    answer = verdict(check_file(path))
    assert says in answer and ("can be used" in answer) == (name == "sound")


def test_findings_stand_at_their_lines_errors_first(tmp_path: Path):
    """Each with the line of its key in the file; then cautions, then notes."""
    path = tmp_path / "plan.toml"
    text = SOUND.replace('limit = "7:00"', 'limit = "2:27"').replace("reserve = 30\n", "").replace("required = true\n", "")
    path.write_text(text, encoding="utf-8")
    problems = check_file(path).problems
    grades = [problem.severity for problem in problems]
    assert grades == sorted(grades, key=("error", "caution", "note").index) and len(set(grades)) > 1
    limit = text.split("\n").index('limit = "2:27"') + 1
    assert next(problem for problem in problems if problem.code == "chance").where == f"{path}:{limit}"


def test_a_finding_for_json_carries_what_explains_it(tmp_path: Path):
    """Its code, what the code means, grade, place, reason, consequence and cure; a file that cannot be read has a code too."""
    path = tmp_path / "plan.toml"
    path.write_text("nonsense", encoding="utf-8")
    (problem,) = check_file(path).problems
    told = finding_json(problem)
    assert told["code"] == "file" and told["what"] == FINDING_KINDS["file"].what and all(told.values())
