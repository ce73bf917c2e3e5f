"""`tetherline suits` as it is typed."""

from __future__ import annotations

from replay.recording import packaged_scenarios
from tests.command import tetherline

FOLDER = packaged_scenarios()["lantern-2"]
RUN = (str(FOLDER / "plan.toml"), str(FOLDER / "run-2031-03-02.jsonl"))


def test_it_says_what_each_suit_has_left_and_until_when():
    """EV2's water runs high: it is the limiting consumable, against the model, with its last reading."""
    said = tetherline("suits", *RUN, "--at", "4:10")
    assert said.returncode == 0
    assert "Suit B, EV2, limiting: water" in said.stdout
    for words in ("Limit of the pair: PET 6:30", "min in hand", "water: rate of the plan", "Advisory only"):
        assert words in said.stdout


def test_wrong_input_is_refused_in_words():
    """A missing log: exit code 2, no traceback."""
    said = tetherline("suits", RUN[0], "nowhere.jsonl")
    assert said.returncode == 2
    assert "nowhere.jsonl" in said.stderr
    assert "Traceback" not in said.stderr
