"""The command `tetherline keys`: the people of a key file, and their keys."""

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
    """Say who may enter events and decide: add, list and revoke keys of people. A running server follows the file."""


@app.command()
def add(
    file: KeyFileArgument,
    name: Annotated[str, typer.Option(help="Of the person; it stands beside what is entered with the key.")],
    role: Annotated[Literal["log", "lead", "watch"], typer.Option(help="log enters events, lead decides as well, watch reads.")],
) -> None:
    """Make a key for a person. It is printed once, alone on standard output; the file keeps a digest only."""
    entry, key = add_key(file, name, role)
    print(key, flush=True)
    said = f"The key of {entry.name}, {entry.role}, is shown this once. It is entry {entry.id} of {file}."
    print(f"{said} Sign in with it at /sign-in of the board, or give it to tetherline send in TETHERLINE_KEY.", file=sys.stderr)


@app.command("list")
def list_keys(file: KeyFileArgument) -> None:
    """List the people of a key file with their roles, the revoked ones as well."""
    entries = read_key_file(file).entries
    table = Table("Entry", "Name", "Role", "Added", "Revoked", box=None, header_style="")
    for one in entries:
        revoked = "" if one.revoked is None else instant_text(one.revoked)
        table.add_row(*(Text(cell) for cell in (one.id, one.name, one.role, instant_text(one.added), revoked)))
    show(table, how_many(sum(one.revoked is None for one in entries), "key counts.", "keys count."))


@app.command()
def revoke(
    file: KeyFileArgument,
    who: Annotated[str, typer.Argument(metavar="WHO", help="The name of a person, for all keys of it, or one entry's id.")],
) -> None:
    """Revoke the keys of a person, or one key. A running server refuses them, and ends their sign-ins, within seconds."""
    for entry in revoke_keys(file, who):
        print(f"Revoked: {entry.id}, {entry.name}, {entry.role}.")
