"""Options that several commands share."""

from __future__ import annotations

import pytest

from tests.command import one_line, tetherline


@pytest.mark.parametrize("speed", ["0", "601", "fast"])
def test_a_speed_outside_the_range_is_refused(speed: str):
    """As the replay itself would."""
    assert tetherline("demo", "--speed", speed, "--no-browser").returncode == 2


@pytest.mark.parametrize("port", ["-1", "65536", "http"])
def test_a_port_that_is_none_is_refused(port: str):
    """Before anything is read."""
    done = tetherline("demo", "--port", port, "--no-browser")
    assert done.returncode == 2 and "--port" in done.stderr


def test_a_key_can_come_from_the_environment():
    """The help of a command that serves names the variables."""
    said = one_line(tetherline("serve", "--help").stdout)
    assert "TETHERLINE_LOG_KEY" in said and "TETHERLINE_LEAD_KEY" in said


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_has_a_short_form(flag: str):
    """In plain text, whatever the terminal."""
    done = tetherline("state", flag)
    assert done.returncode == 0 and done.stdout.startswith("Usage: tetherline state") and "\x1b" not in done.stdout
