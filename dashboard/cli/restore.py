"""The command `tetherline restore`: a new store made of a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.options import single_command
from dashboard.log.store import without_password
from dashboard.log.store.backup import restore

app = single_command()


@app.command("restore")
def restore_command(
    backup: Annotated[Path, typer.Argument(metavar="BACKUP", help="What `tetherline backup` wrote.")],
    store: Annotated[str, typer.Argument(metavar="STORE", help="The new store: a SQLite file, or a database URL.")],
) -> None:
    """Make a new store of a backup. A store that is there already is refused and left as it is."""
    held = restore(backup, store)
    print(f"The store {without_password(store)} holds {held.in_words()}.")
