"""The command `tetherline backup`: a copy of a store, or of what a running server holds, in a new file."""

from __future__ import annotations

import urllib.error
import urllib.request
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

import typer

from dashboard.cli.no_answer import no_answer
from dashboard.cli.options import single_command
from dashboard.core.base.problems import InputError, Problem
from dashboard.log.store.backup import back_up, of_text, write

WAIT_S = 60.0

app = single_command()


@app.command()
def backup(
    store: Annotated[
        str,
        typer.Argument(metavar="STORE", help="The store: a SQLite file, a database URL, or the address of a running server."),
    ],
    to: Annotated[
        Path,
        typer.Argument(metavar="TO", help="The new file. A name that ends in .jsonl gives JSON Lines, any other a SQLite store."),
    ],
) -> None:
    """Back up a store, whether or not a server has it open. A copy of a SQLite file alone may lack the newest events."""
    if urlsplit(store).scheme in ("http", "https"):
        held = of_text(_of_server(store), store)
        write(held.rows, held.about, to)
    else:
        held = back_up(store, to)
    print(f"The backup {to} holds {held.in_words()}.")


def _of_server(address: str) -> str:
    """The text of a backup from a running server. It includes entries that are in the server's memory only."""
    # The user gives the address of the server, so proxies set in the environment are not used.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(f"{address.rstrip('/')}/api/backup", timeout=WAIT_S) as answer:
            return str(answer.read().decode("utf-8"))
    except urllib.error.HTTPError as wrong:
        found, cure = f"answer {wrong.code}", "Is this the address of a server that follows a live sortie?"
    except (OSError, ValueError) as wrong:
        found, cure = f"no answer ({no_answer(wrong)})", "Is the server running? Check the address."
    raise InputError([Problem(f"server {address}", "a server that answers with a backup", found, cure)])
