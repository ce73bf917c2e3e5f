"""`tetherline check`: every wrong plan is refused in words."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from tests.command import LATE_PLAN, PLAN, tetherline
from tests.core.outlook.plans import SOUND
from tests.replay.runs import LANTERN
from tests.scenario import SORTIE, task


def check(tmp_path: Path, content: str | bytes, *options: str):
    file = tmp_path / "plan.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return tetherline("check", file, *options)


def test_a_good_plan_passes(tmp_path: Path):
    """Exit code 0 and one sentence."""
    done = check(tmp_path, PLAN)
    assert (done.returncode, done.stderr) == (0, "")
    assert "2 lanes, 4 tasks" in done.stdout


def test_one_lane_and_one_task_are_counted_as_such(tmp_path: Path):
    """And one note is one."""
    done = check(tmp_path, f'[sortie]\n{SORTIE}[[lane]]\nid = "EV1"\nkind = "crew"\n{task("T010", "EV1", 0, 30)}')
    assert "1 lane, 1 task. 3 cautions and 1 note above." in done.stdout


def test_a_plan_hours_short_of_water_is_not_passed(tmp_path: Path):
    """Exit code 2, the suit, the consumable and the time; the last line does not say that it can be used."""
    done = check(tmp_path, SOUND.replace("loaded = 9.0", "loaded = 1.0"))
    assert done.returncode == 2 and "can be used" not in done.stdout
    assert "suit A (EV1), water" in done.stdout and "its reserve reached at PET 1:12" in done.stdout
    assert "under 1 % likely in by the limit" in done.stdout and "not certified for flight use" in done.stdout.lower()


def test_a_plan_that_is_not_likely_enough_passes_with_a_caution_and_fails_with_strict(tmp_path: Path):
    """Automation may ask for more than a person."""
    tight = SOUND.replace('limit = "7:00"', 'limit = "2:46"')
    lenient, strict = check(tmp_path, tight), check(tmp_path, tight, "--strict")
    assert (lenient.returncode, strict.returncode) == (0, 2)
    assert "promises too little" in lenient.stdout and "can be used" not in lenient.stdout


def test_notes_alone_pass_with_strict(tmp_path: Path):
    """Only errors and cautions fail."""
    done = check(tmp_path, SOUND.replace("reserve = 30\n", ""), "--strict")
    assert done.returncode == 0 and "note: " in done.stdout


def test_the_answer_as_json(tmp_path: Path):
    """The same findings, with their codes, and the chance that the state shows at PET zero."""
    tight = SOUND.replace('limit = "7:00"', 'limit = "2:46"')
    told = json.loads(check(tmp_path, tight, "--json").stdout)
    assert told["passes"] and [one["code"] for one in told["findings"]] == ["chance"]
    assert told["findings"][0]["where"].startswith(str(tmp_path / "plan.toml"))
    (tmp_path / "log.jsonl").write_text("", encoding="utf-8")
    state = json.loads(tetherline("state", tmp_path / "plan.toml", tmp_path / "log.jsonl", "--json").stdout)
    assert told["in_by_limit"] == state["end"]["in_by_limit"] and told["end_p50_pet_min"] == state["end"]["p50_pet_min"]


def test_many_findings_of_one_kind_are_counted(tmp_path: Path):
    """At most twenty lines; the rest is counted, and JSON has all of them."""
    many = SOUND + "".join(task(f"X{n}", "EV1", 60, 10) for n in range(30))
    done = check(tmp_path, many)
    lines = [line for line in done.stdout.splitlines() if "overlap" in line]
    assert len(lines) == 21 and lines[-1].startswith("error: and ") and "--json has them all" in lines[-1]
    findings = json.loads(check(tmp_path, many, "--json").stdout)["findings"]
    assert sum(one["code"] == "overlap" for one in findings) > 21


def test_lengths_are_compared_with_recorded_runs():
    """The run that comes with the program took longer at the fittings."""
    plan = LANTERN / "plan.toml"
    with_runs = json.loads(tetherline("check", plan, "--runs", LANTERN, "--json").stdout)["findings"]
    without = json.loads(tetherline("check", plan, "--json").stdout)["findings"]
    assert {one["code"] for one in with_runs} - {one["code"] for one in without} == {"longer-in-runs"}


NOISE = random.Random(1).randbytes(10_000_000)
WRONG_PLANS = {
    "cyclic after": (PLAN.replace("start = 0\n", 'start = 0\nafter = ["T040"]\n', 1), "T040"),
    "an unknown task": (PLAN.replace('"T020", "T030"', '"T020", "T03"'), "Did you mean 'T030'?"),
    "an unknown lane": (PLAN.replace('["EV2"]', '["EV3"]'), "Did you mean 'EV"),
    "an unknown suit": (PLAN.replace('suit = "A"\n', 'suit = "B"\n', 1), "suit"),
    "an unknown key": (PLAN.replace("title =", "titel =", 1), "title"),
    "a negative duration": (PLAN.replace("duration = 60", "duration = -60"), "-60"),
    "durations out of order": (PLAN.replace("[20, 30, 50]", "[50, 30, 20]"), "50"),
    "a time without zone": (PLAN.replace("09:10:00Z", "09:10:00"), "zone"),
    "the same task twice": (PLAN.replace('"T020"', '"T010"'), "T010"),
    "no task": (PLAN.split("[[task]]")[0], "task"),
    "an empty file": ("", "empty"),
    "blanks only": ("  \n\n", ""),
    "not TOML": ("this is not a plan\n", ""),
    "ten megabytes of noise": (NOISE, ""),
    "a binary file": (b"\x7fELF\x02\x01\x01\x00" + b"\x00" * 400, ""),
    "UTF-16": (PLAN.encode("utf-16"), "UTF-"),
    "Latin-1": (PLAN.replace("Unstow", "Lös").encode("latin-1"), "UTF-8"),
    "deep nesting": ("a = " + "[" * 100_000, ""),
}


@pytest.mark.parametrize("name", WRONG_PLANS)
def test_a_wrong_plan_is_refused_in_words(tmp_path: Path, name: str):
    """Exit code 2, an error line with what was expected and found, no traceback."""
    content, says = WRONG_PLANS[name]
    done = check(tmp_path, content)
    assert done.returncode == 2, done.stdout + done.stderr
    errors = [line for line in done.stdout.splitlines() if line.startswith("error: ")]
    assert errors
    assert all(": expected " in line and "; found " in line for line in errors)
    assert any(says in line for line in errors)
    assert all(len(line) < 1000 for line in errors)
    assert done.stderr == ""


def test_every_problem_is_shown_at_once(tmp_path: Path):
    """Nobody mends a plan error by error."""
    content = (
        PLAN.replace("duration = 60", "duration = -60")
        .replace("titel", "title")
        .replace('["EV1"]', '["EV7"]')
    )
    done = check(tmp_path, content)
    assert "-60" in done.stdout and "EV7" in done.stdout


WARNED = {
    "overlapping briefed tasks": PLAN.replace("start = 30", "start = 20"),
    "the last task past the limit": LATE_PLAN,
}


@pytest.mark.parametrize("name", WARNED)
def test_what_looks_wrong_is_named_and_strict_refuses_it(tmp_path: Path, name: str):
    """A warning leaves the plan usable; with --strict it does not."""
    lenient, strict = check(tmp_path, WARNED[name]), check(tmp_path, WARNED[name], "--strict")
    assert "T0" in lenient.stdout
    assert ": expected " in lenient.stdout
    assert strict.returncode == 2
    assert lenient.returncode == (2 if "error: " in lenient.stdout else 0)


def test_a_missing_plan_and_a_folder_are_refused(tmp_path: Path):
    """As a file that cannot be read."""
    for path in (tmp_path / "nope.toml", tmp_path):
        done = tetherline("check", path)
        assert done.returncode == 2
        assert "error: " in done.stdout and "Traceback" not in done.stderr


def test_a_file_is_named_once(sortie: Path):
    """Not as place and as subject."""
    done = tetherline("check", sortie / "nofile")
    assert done.stdout.count("nofile") == 1
    assert done.stdout.startswith("error: file ")
