"""The option `--at`: a PET or an instant of the sortie."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from dashboard.cli.at import instant_at, is_pet
from dashboard.core.base.problems import InputError
from tests.command import (
    assert_bad_input,
    tetherline,
)
from tests.scenario import PET_ZERO


@pytest.mark.parametrize(
    "at", ["0:20", "20", "PET 0:20", "2031-04-12T09:30:00Z", "2031-102T09:30:00Z", "2031-04-12T11:30:00+02:00"]
)
def test_a_time_is_a_pet_or_an_instant(plan: Path, log: Path, at: str):
    """All of these are PET 0:20."""
    done = tetherline("state", plan, log, "--at", at)
    assert "PET 0:20" in done.stdout
    assert "in work: T010 Unstow pump" in done.stdout


def test_before_pet_zero_is_a_time_too(plan: Path, log: Path):
    """A negative PET; nothing has begun."""
    done = tetherline("state", plan, log, "--at", "-0:30")
    assert done.returncode == 0
    assert "PET -0:30" in done.stdout


@pytest.mark.parametrize(
    ("at", "says"),
    [
        ("nonsense", "a PET or an instant"),
        ("", "a PET or an instant"),
        ("2:75", "a PET or an instant"),
        ("2031-04-12T09:30:00", "zone"),
        ("2031-04-12 09:30", "zone"),
        ("99:00", "PET 48:00"),
        ("2032-04-12T09:30:00Z", "PET 48:00"),
        ("1e300", "a PET or an instant"),
        ("9" * 400, ""),
    ],
)
def test_a_time_that_is_none_or_outside_the_sortie_is_refused(plan: Path, log: Path, at: str, says: str):
    """With what would be one."""
    assert_bad_input(tetherline("state", plan, log, f"--at={at}"), "option --at", says)


@pytest.mark.parametrize(
    ("text", "pet"),
    [("2:05", True), ("-0:30", True), ("125", True), ("2031-04-12T09:30:00Z", False), ("soon", False), ("2:75", False)],
)
def test_a_pet_is_told_from_an_instant(text: str, pet: bool):
    """By its form alone."""
    assert is_pet(text) is pet


@pytest.mark.parametrize(
    ("text", "pet_min"), [("0:20", 20.0), ("-0:30", -30.0), ("2031-04-12T09:30:00Z", 20.0), ("2031-04-12T09:30:30Z", 20.5)]
)
def test_both_are_counted_from_pet_zero(text: str, pet_min: float):
    """To the second."""
    assert instant_at(text, PET_ZERO) == PET_ZERO + timedelta(minutes=pet_min)


@pytest.mark.parametrize(("text", "refused"), [("0:10", False), ("0:50", False), ("0:09", True), ("0:51", True)])
def test_the_span_that_is_asked_for_includes_its_ends(text: str, refused: bool):
    """Outside it the problem names both ends."""
    if not refused:
        assert instant_at(text, PET_ZERO, 10, 50)
        return
    with pytest.raises(InputError, match=r"expected a time from PET 0:10 to PET 0:50; found PET 0:\d\d"):
        instant_at(text, PET_ZERO, 10, 50)
