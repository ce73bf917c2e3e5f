"""The difference between two texts of a plan file, line by line in words, and the changes of two editors put together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import NamedTuple

from dashboard.core.base.wording import shortened

MOST_SAID = 40  # changes of one editor in words
LONGEST = 240  # characters of the lines of one change in words


class TextsMerged(NamedTuple):
    """The changes of two editors of one text.

    Parameters
    ----------
    text
        The text with the changes of both; None where both changed the same lines differently.
    theirs, yours
        The changes of each, in words, with the lines of the text that both began with.
    both
        The lines that both changed differently, in words.
    """

    text: str | None
    theirs: list[str]
    yours: list[str]
    both: list[str]


class _Change(NamedTuple):
    """Lines `first` to `last` (counted from 0, without `last`) of a text are replaced by others."""

    first: int
    last: int
    lines: tuple[str, ...]


def changes_in_words(base: str, edited: str) -> list[str]:
    """Say what was changed in a text.

    Parameters
    ----------
    base
        The text before.
    edited
        The text after. Line ends do not count.

    Returns
    -------
    list of str
        A sentence for each change, with the lines of the text before.
    """
    before = base.splitlines()
    return _in_words(before, _changes(before, edited.splitlines()))


def merged_texts(base: str, theirs: str, yours: str) -> TextsMerged:
    """Put the changes of two editors together.

    Parameters
    ----------
    base
        The text that both began with.
    theirs, yours
        The text of each editor. Line ends do not count; the text of both has plain ones.

    Returns
    -------
    TextsMerged
    """
    before = base.splitlines()
    first, second = _changes(before, theirs.splitlines()), _changes(before, yours.splitlines())
    clashes = [(one, other) for one in first for other in second if one != other and _meet(one, other)]
    both = [
        f"{_lines(min(one.first, other.first), max(one.last, other.last))}: in the file {_quoted(one.lines)}, "
        f"in your text {_quoted(other.lines)}"
        for one, other in clashes
    ]
    changes = sorted([*first, *(one for one in second if one not in first)], key=lambda one: (one.first, one.last))
    text = None if clashes else "".join(f"{line}\n" for line in _applied(before, changes))
    return TextsMerged(text, _in_words(before, first), _in_words(before, second), both)


def _changes(before: Sequence[str], after: Sequence[str]) -> list[_Change]:
    found = SequenceMatcher(None, before, after).get_opcodes()
    return [_Change(i1, i2, tuple(after[j1:j2])) for tag, i1, i2, j1, j2 in found if tag != "equal"]


def _meet(one: _Change, other: _Change) -> bool:
    """Whether two changes replace the same line. Lines that both add at one place are kept, theirs first."""
    return one.first < other.last and other.first < one.last


def _applied(before: Sequence[str], changes: Sequence[_Change]) -> Iterator[str]:
    at = 0
    for change in changes:
        yield from before[at : change.first]
        yield from change.lines
        at = change.last
    yield from before[at:]


def _in_words(before: Sequence[str], changes: Sequence[_Change]) -> list[str]:
    said = [_said(before, one) for one in changes[:MOST_SAID]]
    return [*said, f"and {len(changes) - MOST_SAID} more"] if len(changes) > MOST_SAID else said


def _said(before: Sequence[str], change: _Change) -> str:
    was = before[change.first : change.last]
    if not was:
        return f"{f'after line {change.first}' if change.first else 'at the top'}: {_quoted(change.lines)} is new"
    where = _lines(change.first, change.last)
    became = f"became {_quoted(change.lines)}" if change.lines else "was taken out"
    return f"{where}: {_quoted(was)} {became}"


def _lines(first: int, last: int) -> str:
    return f"line {first + 1}" if last <= first + 1 else f"lines {first + 1} to {last}"


def _quoted(lines: Sequence[str]) -> str:
    words = " / ".join(line.strip() for line in lines if line.strip())
    return f"'{shortened(words, LONGEST)}'" if words else "an empty line"
