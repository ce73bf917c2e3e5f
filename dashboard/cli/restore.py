"""The command `tetherline restore`: makes a new store from a backup."""

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
    backup: Annotated[Path, typer.Argument(metavar="BACKUP", help="A file that `tetherline backup` wrote.")],
    store: Annotated[str, typer.Argument(metavar="STORE", help="The new store: a SQLite file, or a database URL.")],
) -> None:
    """Make a new store from a backup. An existing store is refused and left as it is."""
    held = restore(backup, store)
    print(f"The store {without_password(store)} holds {held.in_words()}.")
