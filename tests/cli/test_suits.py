"""`tetherline suits` as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

from replay.recording import packaged_scenarios
from tests.command import PLAN, tetherline

FOLDER = packaged_scenarios()["lantern-2"]
RUN = (str(FOLDER / "plan.toml"), str(FOLDER / "run-2031-03-02.jsonl"))


def test_it_says_what_each_suit_has_left_and_until_when():
    """EV2's water runs high: it is the limiting consumable, against the model, with its last reading."""
    said = tetherline("suits", *RUN, "--at", "4:10")
    assert said.returncode == 0
    assert "Suit B, EV2, limiting: water" in said.stdout
    printed = " ".join(said.stdout.split())
    for words in ("Limit of the pair: PET 6:30", "min in hand", "water: rate of the plan", "Advisory only"):
        assert words in printed
    assert "Needs and margins are against the expected end." in printed


def test_json_is_the_suits_of_the_state():
    """Field by field what `tetherline state --json` has, as of the same instant, with the caution."""
    whole = json.loads(tetherline("state", *RUN, "--at", "4:10", "--json").stdout)
    said = json.loads(tetherline("suits", *RUN, "--at", "4:10", "--json").stdout)
    assert said["suits"] and said["pet_min"] == 250
    assert said.pop("caution") == whole["advice"]["caution"]
    assert said.pop("not_known") == {field: why for field, why in whole["not_known"].items() if "suits" in field}
    assert said == {part: whole[part] for part in ("sortie", "now", "pet_min", "limit", "suits", "unread")}


def test_a_doubted_reading_and_an_assumed_rate_are_told(plan: Path, log: Path):
    """Both values stand in the column of the last reading; an assumed rate has no margin, and says why."""
    plan.write_text(PLAN.replace("oxygen = {", "battery = {loaded = 430}\noxygen = {", 1), encoding="utf-8")
    with log.open("a", encoding="utf-8") as file:
        file.write('{"id": "r1", "at": "2031-04-12T09:50:00Z", "kind": "reading", "suit": "A", "oxygen": 0.2}\n')
    said = " ".join(tetherline("suits", plan, log, environment={"COLUMNS": "250"}).stdout.split())
    assert "0.20 kg at PET 0:40, 0.49 kg expected" in said and "sets no limit" in said
    assert "battery: assumed from the load of a published suit, as the plan gives no rate" in said


def test_wrong_input_is_refused_in_words():
    """A missing log: exit code 2, no traceback."""
    said = tetherline("suits", RUN[0], "nowhere.jsonl")
    assert said.returncode == 2
    assert "nowhere.jsonl" in said.stderr
    assert "Traceback" not in said.stderr
