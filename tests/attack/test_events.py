"""Whatever is sent, the room goes on: a thousand mutated events on a server, each judged alone."""

from __future__ import annotations

import itertools
import json
from typing import Any

import pytest

from tests.attack.judging import Answer, Round, Tally
from tests.attack.mutants import Mutant, Mutator
from tests.attack.rounds import attack_inside

COUNT, SEED = 1_000, 1


@pytest.fixture(scope="module")
def tally(tmp_path_factory: pytest.TempPathFactory) -> Tally:
    return attack_inside(tmp_path_factory.mktemp("attack"), COUNT, SEED)


def test_no_event_stops_the_state_and_none_is_lost(tally: Tally):
    """After each there is a state; each is applied, unread, in quarantine or refused, with a reason that can be read."""
    assert not tally.faults, "\n".join(map(str, tally.faults[:5]))
    assert (tally.tried, tally.states_missed, tally.lost) == (COUNT, 0, 0)


def test_no_event_breaks_the_cycle(tally: Tally):
    """Quarantine is there for what nobody thought of; whatever the attack finds for it is a fault in the core."""
    assert tally.statuses["quarantined"] == 0, tally.reasons


def test_the_attack_gets_far(tally: Tally):
    """Most mutants are still understood, and reach the state; many are not."""
    assert tally.statuses["recorded"] > COUNT / 2
    assert tally.statuses["unread"] > COUNT / 5
    assert tally.statuses["refused"] and tally.statuses["conflict"]


def test_the_same_seed_makes_the_same_mutants():
    """So that what was found once is found again."""
    one, other, another = (list(itertools.islice(Mutator(seed), 50)) for seed in (1, 1, 2))
    assert one == other and one != another


class Broken:
    """A server with faults, to see that they are found."""

    def __init__(self, answer: Answer, state: Answer, rows: list[dict[str, Any]]) -> None:
        self._answer, self._state, self._rows = answer, state, rows

    def post(self, body: bytes) -> Answer:
        return self._answer

    def state(self) -> Answer:
        return self._state

    def rows(self) -> list[dict[str, Any]]:
        return self._rows

    def restart(self) -> None:
        self._rows = []


def outcome(status: str = "recorded", why: str | None = None) -> Answer:
    return Answer(200, {"outcomes": [{"status": status, "id": "m1", "seq": 1, "why": why}]})


GOOD = Answer(200, {})
ROW = {"seq": 1, "id": "m1"}


@pytest.mark.parametrize(
    ("server", "restart", "says"),
    [
        (Broken(Answer(500, "x"), GOOD, []), False, "HTTP 500"),
        (Broken(outcome(), Answer(503, "trouble"), [ROW]), False, "no state"),
        (Broken(outcome(), GOOD, []), False, "not in the log"),
        (Broken(outcome(), GOOD, [{"seq": 1, "id": "m2"}]), False, "not 'm1'"),
        (Broken(outcome(), GOOD, [ROW]), True, "not in the log"),
        (Broken(outcome("unread", ""), GOOD, [{"seq": 1, "line": "x"}]), False, "a reason of 0 characters"),
        (Broken(outcome("refused", "no"), GOOD, []), False, "does not say what was expected"),
        (Broken(outcome("lost in thought", "expected"), GOOD, []), False, "nobody knows"),
    ],
)  # fmt: skip
def test_a_fault_of_the_server_is_found(server: Broken, restart: bool, says: str):
    """Each that the attack looks for, also one that shows only after a restart."""
    tally = Tally()
    attack = Round(server, tally)
    attack.send(Mutant(json.dumps({"id": "m1"}).encode(), ("note",)))
    attack.look(restart=restart)
    assert len(tally.faults) == 1 and says in str(tally.faults[0])


def test_a_request_that_is_no_json_is_sent_again_one_by_one():
    """So that one body hides no other."""
    tally = Tally()
    problem = {"subject": "request", "expected": "JSON", "found": "none", "cure": "Send JSON."}
    Round(Broken(Answer(400, {"problems": [problem]}), GOOD, []), tally).send(*[Mutant(b"{}", ("note",))] * 3)
    assert (tally.tried, tally.statuses["refused"]) == (3, 3)


def test_a_server_without_a_fault_has_none():
    """The same server, with everything in its place."""
    tally = Tally()
    attack = Round(Broken(outcome(), GOOD, [ROW]), tally)
    attack.send(Mutant(b"{}", ("note",)))
    attack.look(restart=False)
    assert not tally.faults and tally.acknowledged == 1
