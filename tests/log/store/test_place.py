"""Which place an address leads to, and the addresses that lead nowhere."""

from __future__ import annotations

import sys

import pytest

from tests.log.store.shared import refused
from tests.problems import assert_problem


@pytest.mark.parametrize("url", ["sortie.db", "", "nosuch://here/x", "sqlite:/x:y@", "mysql://here/x", "postgresql+pg8000://x/y"])
def test_what_is_no_address_of_a_store_is_told(url: str) -> None:
    """A bare path is met with how to write it, another kind of database with the kinds that there are."""
    problem = refused(url)
    assert_problem(problem, subject="event store", expected="sqlite:///sortie.db", found=f"'{url}'", cure="sqlite:///")
    assert "postgresql+psycopg://" in problem.cure


def test_without_the_driver_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """PostgreSQL comes with an extra of the package."""
    monkeypatch.setitem(sys.modules, "psycopg", None)
    assert_problem(refused("postgresql://localhost/x"), subject="event store", expected="driver", found="none",
                   cure="tetherline[postgres]")


@pytest.mark.parametrize("driver", ["postgresql", "postgres", "postgresql+psycopg"])
def test_a_password_in_the_address_is_not_shown(driver: str) -> None:
    """Errors are read by the whole room. A server that is not there is told as such."""
    problem = refused(f"{driver}://room:secret@127.0.0.1:1/x?connect_timeout=2")
    assert "secret" not in problem.text()
    assert "a database that cannot be reached" in problem.found
