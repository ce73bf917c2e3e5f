"""Finds the place that keeps the rows of a store, by the store's address."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from dashboard.core.base.problems import InputError
from dashboard.log.store.memory import MemoryRows
from dashboard.log.store.postgres import PostgresRows
from dashboard.log.store.rows import Rows, first_line, refusal, without_password
from dashboard.log.store.sqlite import SqliteRows

DRIVER = "postgresql+psycopg"


def place_of(url: str) -> Rows:
    """Make the place at an address, without opening it.

    Parameters
    ----------
    url
        ``sqlite:///sortie.db``, ``sqlite://`` for memory, or ``postgresql+psycopg://user@host/database``.

    Returns
    -------
    Rows
        The place; call its `open` or its reading methods next.

    Raises
    ------
    InputError
        When the address is none of these, when there can be no such file, or when the driver is missing.
    """
    where = without_password(url)
    try:
        parsed = sa.make_url(url)
        kind = parsed.get_backend_name()
        if kind == "sqlite" and parsed.database in (None, "", ":memory:"):
            return MemoryRows(where)
        if kind == "sqlite":
            return SqliteRows(parsed, where)
        if parsed.drivername in (DRIVER, "postgresql", "postgres"):
            return PostgresRows(parsed.set(drivername=DRIVER), where)
    except ImportError as wrong:
        raise refusal(where, "the driver of PostgreSQL", f"none ({first_line(wrong)})",
                      "Install Tetherline with the extra 'postgres': pip install 'tetherline[postgres]'.") from None
    except (ArgumentError, SQLAlchemyError) as wrong:
        raise _no_address(where, f" ({first_line(wrong)})") from None
    raise _no_address(where, "")


def _no_address(where: str, why: str) -> InputError:
    return refusal(
        where, "the address of a database, such as sqlite:///sortie.db", f"'{where}'{why}",
        f"Write sqlite:/// and the path of the file, or {DRIVER}://user@host/database.",
    )
