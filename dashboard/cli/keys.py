"""The command `tetherline keys`: adds, lists and revokes the keys of a key file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.table import Table
from rich.text import Text

from dashboard.cli.options import single_command
from dashboard.cli.printing import show
from dashboard.core.base.times import instant_text
from dashboard.service.access.key_file import add_key, read_key_file, revoke_keys
from dashboard.words import how_many

KeyFileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="The key file (TOML).")]

app = single_command()


@app.callback()
def keys() -> None:
    """Add, list and revoke the keys of people who may enter events or decide. A running server follows the file."""


@app.command()
def add(
    file: KeyFileArgument,
    name: Annotated[str, typer.Option(help="Name of the person. It is shown beside everything entered with the key.")],
    role: Annotated[
        Literal["log", "lead", "watch"],
        typer.Option(help="What the key allows: log, to enter events; lead, to decide as well; watch, only to read."),
    ],
) -> None:
    """Make a key for a person. The key alone is printed on standard output, once. The file keeps only its digest."""
    entry, key = add_key(file, name, role)
    print(key, flush=True)
    said = f"This is the key of {entry.name} ({entry.role}), entry {entry.id} of {file}. It will not be shown again."
    print(f"{said} Sign in with it on the page /sign-in of the board, or set TETHERLINE_KEY to it for `tetherline send`.",
          file=sys.stderr)


@app.command("list")
def list_keys(file: KeyFileArgument) -> None:
    """List the keys of a key file with their people and roles, revoked keys included."""
    entries = read_key_file(file).entries
    table = Table("Entry", "Name", "Role", "Added", "Revoked", box=None, header_style="")
    for one in entries:
        revoked = "" if one.revoked is None else instant_text(one.revoked)
        table.add_row(*(Text(cell) for cell in (one.id, one.name, one.role, instant_text(one.added), revoked)))
    show(table, how_many(sum(one.revoked is None for one in entries), "key is valid.", "keys are valid."))


@app.command()
def revoke(
    file: KeyFileArgument,
    who: Annotated[
        str, typer.Argument(metavar="WHO", help="The name of a person, to revoke all keys of the person, or the id of one entry.")
    ],
) -> None:
    """Revoke all keys of a person, or one key. Within seconds a running server refuses them and ends their sign-ins."""
    for entry in revoke_keys(file, who):
        print(f"Revoked: {entry.id}, {entry.name}, {entry.role}.")
