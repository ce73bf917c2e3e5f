"""The command `tetherline explain`: what a word of a plan, a log, a log sheet, an alert, a call or the state means."""

from __future__ import annotations

from typing import Annotated

import typer

from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import print_json, show
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.wording import listed, shortened
from dashboard.core.state.explained import everything, explain, near

MOST_SHOWN = 80  # characters of a word that is not known

app = single_command()


@app.command("explain")
def explain_word(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORD]...", help="The word, such as after, task.start or over-limit; by default all words."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Explain a word: of the plan, an event, a log sheet, a check, an alert, a call, or a figure of the state."""
    if not words:
        _list(as_json)
        return
    word = " ".join(words)
    found = explain(word)
    if not found:
        offered = listed([f"'{one}'" for one in near(word)])
        cure = f"Nearest: {offered}." if offered else "tetherline explain without a word lists all."
        expected = "a word of a plan, an event, a log sheet, a check, an alert, a call or the state"
        raise InputError([Problem("explain", expected, f"'{shortened(word, MOST_SHOWN)}'", cure)])
    if as_json:
        print_json([one._asdict() for one in found])
        return
    for one in found:
        where = f" ({one.where})" if one.where else ""
        text = one.text[:1].upper() + one.text[1:] + ("" if one.text.endswith(".") else ".")
        show(f"{one.word}: {one.sort}{where}", f"  {text}", *(f"  - {part}" for part in one.more))


def _list(as_json: bool) -> None:
    if as_json:
        print_json([one._asdict() for one in everything()])
        return
    by_sort: dict[str, list[str]] = {}
    for one in everything():
        by_sort.setdefault(one.sort, []).append(one.word)
    for sort, names in by_sort.items():
        show(f"{sort}: {', '.join(dict.fromkeys(names))}")
