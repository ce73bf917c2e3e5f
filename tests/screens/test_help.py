"""The map of keys and signs."""

from __future__ import annotations

from dashboard.screens import help, keys
from tests.screens.plans import plain_plan


def test_the_map_shows_every_key_and_sign() -> None:
    """With what it does, and the numbers of the lanes."""
    said = str(help.layout(plain_plan())[0])
    for table in (keys.KEYS, keys.LANE_KEYS):
        for key, (_, words) in table.items():
            assert f"Kbd('{key}')" in said and words in said, key
    for _, _, words in help.SIGNS:
        assert words in said
    assert "1 EV1" in said
