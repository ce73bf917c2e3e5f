"""`tetherline demo`: the recorded run that comes with the program."""

from __future__ import annotations

from tests.command import (
    state_of,
)
from tests.serving import Start


def test_the_demo_plays_the_invented_run_from_its_beginning(start: Start):
    """With no argument but the port: no file to find, nothing to configure, nothing loaded from elsewhere."""
    process, url = start("demo", "--port", "0", "--no-browser")
    found = state_of(url)
    assert (found["mode"], found["sortie"]) == ("replay", "lantern-2")
    assert 0 <= found["pet_min"] < 30
    assert process.stop() == (0, "")
