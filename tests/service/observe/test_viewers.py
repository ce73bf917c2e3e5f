"""The boards that are connected, and their clocks."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from dashboard.core.base.times import instant_text
from dashboard.service.observe.clocks import Offset
from dashboard.service.observe.viewers import Viewers

SENT = datetime(2031, 4, 12, 12, 0, tzinfo=UTC)
HEARD = SENT + timedelta(seconds=0.2)


def told(ahead_s: float = 0.0, **other: object) -> str:
    clock_ms = (SENT + timedelta(seconds=0.1 + ahead_s)).timestamp() * 1000
    return json.dumps({"clock_ms": clock_ms, "sent": instant_text(SENT), **other})


def test_boards_are_counted_while_they_are_connected():
    """Also when their connection ends with an error."""
    viewers = Viewers()
    with viewers.joined(), pytest.raises(OSError), viewers.joined():
        assert len(viewers) == 2
        raise OSError
    assert len(viewers) == 0


def test_a_board_says_what_its_clock_shows():
    """The last word counts; it goes with the board."""
    viewers = Viewers()
    with viewers.joined() as viewer:
        assert viewers.offsets() == []
        viewer.take_clock(told(ahead_s=60), HEARD)
        viewer.take_clock(told(ahead_s=90), HEARD)
        (offset,) = viewers.offsets()
        assert offset == Offset(pytest.approx(90), pytest.approx(0.1))
    assert viewers.offsets() == []


@pytest.mark.parametrize(
    "text",
    ["", "x", "[]", "7", told()[:-1], told(clock_ms="x"), told(clock_ms=1e300), told(clock_ms=None), told(sent="noon"),
     told(sent=instant_text(SENT - timedelta(minutes=5))), told(sent=instant_text(HEARD + timedelta(seconds=1))),
     told(more="x" * 2000), '{"clock_ms": NaN, "sent": "2031-04-12T12:00:00Z"}', "[" * 900],
)  # fmt: skip
def test_anything_else_that_it_says_is_of_no_interest(text: str):
    """Whatever it is, nothing breaks."""
    with Viewers().joined() as viewer:
        viewer.take_clock(text, HEARD)
        assert viewer.offset is None
