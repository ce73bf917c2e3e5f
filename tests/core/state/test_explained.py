"""Every word of the program has a text, and it is the text of the thing itself."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.call import CALL_WORDS
from dashboard.core.events.kinds import KINDS
from dashboard.core.plan.finding_kinds import FINDING_KINDS
from dashboard.core.plan.model import Plan, Task
from dashboard.core.state.alerts import RULES
from dashboard.core.state.explained import (
    ALERT,
    CALL,
    CHECK,
    EVENT_FIELD,
    FIELD,
    FIGURE,
    KIND,
    PHRASE,
    everything,
    explain,
    near,
)
from dashboard.log.log_sheet_words import Phrases
from dashboard.service.schemas import json_schema
from tests.scenario import plan_of, task


def test_every_word_has_a_text() -> None:
    """Of plan, events, log sheets, alerts and calls: no field without its description."""
    assert [one for one in everything() if not one.text] == []


@pytest.mark.parametrize(
    ("sort", "words"),
    [
        (KIND, set(KINDS)), (CHECK, set(FINDING_KINDS)), (ALERT, {*RULES, "call"}), (CALL, set(CALL_WORDS)),
        (FIELD, {field.alias or name for model in (Plan, Task) for name, field in model.model_fields.items()}),
        (EVENT_FIELD, {name for kind in KINDS.values() for name in kind.model_fields} - {"kind"}),
        (PHRASE, {phrase for kind in KINDS.values() for phrase in kind.spoken_alone}),
    ],
)  # fmt: skip
def test_nothing_is_left_out(sort: str, words: set[str]) -> None:
    """Each kind of event, alert, call, field and phrase can be looked up."""
    assert words - {one.word for one in everything() if one.sort == sort} == set()


def test_every_verb_of_a_log_sheet_can_be_looked_up() -> None:
    """As a phrase, or as the kind of event of the same name."""
    verbs = {verb for kind in KINDS.values() if kind.spoken for verb in kind.spoken.verbs}
    assert [verb for verb in verbs if not explain(verb)] == []


def test_the_schemas_carry_the_same_texts() -> None:
    """What the command says of a field and of a kind is what the published schema says."""
    plan, events = json_schema("plan")["$defs"], json_schema("events")["$defs"]
    for key in ("after", "follows", "serves", "closeout", "needs"):
        one = next(one for one in explain(key) if one.where == "[[task]]")
        assert plan["Task"]["properties"][key]["description"] == one.text
    for kind, cls in KINDS.items():
        one = next(one for one in explain(kind) if one.sort == KIND)
        assert " ".join(events[cls.__name__]["description"].split()).startswith(one.text)
    assert events["Trim"]["properties"]["duration"]["description"] == next(
        one.text for one in explain("duration") if one.where == "trim"
    )


def test_a_word_is_found_however_it_is_written() -> None:
    """Case, spaces, hyphens and underscores do not count; the table may stand before it."""
    assert explain("Get-Ahead") == explain("get_ahead") != []
    assert [one.where for one in explain("task.duration")] == ["[[task]]"]
    assert explain("no such word") == []


@pytest.mark.parametrize(
    ("entry", "word", "makes"),
    [
        ("skip B5", "skip", "'defer'"), ("B5 done, all good", "done", "Work is complete"),
        ("decided: stay at the mast", "decided", "'decision'"),
        ("suit B water 0.4 kg", "suit", "'reading'"), ("T090 handed over to EV2", "handed over", "'move'"),
    ],
)  # fmt: skip
def test_a_whole_entry_of_a_log_sheet_is_explained_by_its_verb(entry: str, word: str, makes: str) -> None:
    """As somebody types it who wants to know what the import made of it."""
    found = explain(entry)
    assert [one.word for one in found if makes in one.text] == [word], found


def test_the_forms_of_entries_are_those_that_the_import_reads() -> None:
    """An example that is shown is read as the event that shows it."""
    plan = plan_of(task("T010", "EV1", 0, 30) + '[[suit]]\nid = "A"\noxygen = { loaded = 0.55 }\n')
    shown = {kind: cls.spoken_as for kind, cls in KINDS.items() if cls.spoken_as}
    assert shown and all(Phrases(plan, {}).meaning(said, "").fields["kind"] == kind for kind, said in shown.items())


def test_a_figure_is_found_without_its_unit_and_with_what_it_belongs_to() -> None:
    """In the words of the published schema of the state."""
    assert [one.where for one in explain("turn back") if one.sort == FIGURE] == ["lanes"]
    assert explain("suits.limit_pet_min") == explain("suits limit")
    one = next(one for one in explain("lanes ahead"))
    assert json_schema("state")["$defs"]["LaneState"]["properties"]["ahead_min"]["description"] == one.text


def test_how_a_value_is_written_follows_from_its_field() -> None:
    """Type, bounds, and what holds when it is absent."""
    more = next(one for one in explain("priority") if one.sort == FIELD).more
    assert more == ("written as: a whole number", "1 or more, at most 9", "when absent: 2")
    assert 'written as: minutes or "H:MM"' in next(one for one in explain("every")).more
    assert "must be given" in next(one for one in explain("lanes") if one.where == "[[task]]").more


def test_a_table_is_explained_with_its_keys() -> None:
    """So that somebody who starts one knows what to write; those that may be absent have a question mark."""
    told = {(one.where, one.word): one.more for word in ("suit", "oxygen") for one in explain(word) if one.sort == FIELD}
    assert "keys of [[suit]]: id, oxygen?, co2?, battery?, water?" in told["", "suit"]
    assert "keys of [suit.oxygen]: loaded, reserve?, base?, per_watt?" in told["[[suit]]", "oxygen"]


def test_near_words_are_those_written_alike_then_those_that_speak_of_it() -> None:
    """At most a few."""
    assert near("aftr")[0] == "after" and "closeout" in near("close outs")
    assert near("canister") and len(near("a")) <= 5
