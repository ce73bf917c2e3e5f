"""The verbs that events know."""

from __future__ import annotations

from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS
from dashboard.core.events.recorder import Recorder
from dashboard.core.record.writer import RecordWriter


def test_the_record_carries_out_every_verb() -> None:
    """No verb is left abstract, and none is added that events do not know."""
    verbs = {name for name in vars(Recorder) if not name.startswith("_") and callable(getattr(Recorder, name))}
    assert RecordWriter.__abstractmethods__ == frozenset()
    assert {name for name in vars(RecordWriter) if not name.startswith("_")} == verbs


def test_only_what_changes_nothing_by_itself_has_no_effect_of_its_own() -> None:
    """PET zero, notes and answers are taken before events are applied."""
    idle = {kind for kind, event in KINDS.items() if event.apply is Event.apply}
    assert idle == {"clock", "note", "amend", "withdraw"}
