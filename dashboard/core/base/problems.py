"""Problems as values with an address: what was expected, what was found, where, and what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dashboard.core.base.wording import shortened

LONGEST_PART = 1000  # characters of one part of a problem, whatever was found


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a plan, a log or a request. Parts longer than `LONGEST_PART` are cut short.

    Parameters
    ----------
    subject : str
        What it is about, for instance ``task T080, key 'duration'``.
    expected, found : str
        In words, with units.
    cure : str
        What to do about it.
    where : str
        Address: file and line, or the place in the plan. Empty when there is none.
    severity : str
        ``error`` (the check fails), ``caution`` (the check passes, but a person should look) or ``note`` (worth knowing).
    can_be_followed : bool
        For an error in a plan: whether a sortie can still be followed with this plan.
    code : str
        Of a finding about a plan: a key of `dashboard.core.plan.finding_kinds.FINDING_KINDS`. Empty for other problems.
    consequence : str
        What follows if nothing is done: whole sentences. Empty where the rest says it.
    """

    subject: str
    expected: str
    found: str
    cure: str
    where: str = ""
    severity: str = "error"
    can_be_followed: bool = False
    code: str = ""
    consequence: str = ""

    def __post_init__(self) -> None:
        for part in ("subject", "expected", "found", "where"):
            object.__setattr__(self, part, shortened(getattr(self, part), LONGEST_PART))

    @property
    def refuses(self) -> bool:
        """Whether the plan, log or request must be refused because of this problem."""
        return self.severity == "error" and not self.can_be_followed

    def text(self) -> str:
        """The problem as one readable line."""
        place = f"{self.where}: {self.subject}" if self.where else self.subject
        if self.where and self.subject.startswith("file "):
            place = f"file {self.where}"  # the place names the file already
        elif self._is_in_place():
            place = self.where
        follows = f"{self.consequence} " if self.consequence else ""
        return f"{place}: expected {self.expected}; found {self.found}. {follows}{self.cure}"

    def _is_in_place(self) -> bool:
        """Whether the place says all that the subject says, such as ``row 3, column start`` for a subject ``row 3``."""
        said, place = (f", {text.replace(chr(39), '')}, " for text in (self.subject, self.where.replace(": ", ", ")))
        return bool(self.where) and said in place

    def as_dict(self) -> dict[str, str]:
        """The problem as the answers of the HTTP interface carry it."""
        return {
            "subject": self.subject, "expected": self.expected, "found": self.found, "cure": self.cure, "where": self.where,
        }  # fmt: skip


class InputError(Exception):
    """Bad input, carried as a list of problems so that all of them can be shown at once."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = list(problems)
        super().__init__("\n".join(p.text() for p in self.problems))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word nearest to `word`.

    Parameters
    ----------
    word : str
    known : iterable of str

    Returns
    -------
    str or None
        None when no known word is similar.
    """
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.5)
    return found[0] if found else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A sentence that names the nearest known word, or lists the known words.

    Parameters
    ----------
    word : str
    known : iterable of str

    Returns
    -------
    str
        For example ``Did you mean 'EV1'?``.
    """
    names = sorted(known)
    near = nearest(word, names)
    if near is not None:
        return f"Did you mean '{near}'?"
    return f"Known: {', '.join(names[:12])}{' and more' if len(names) > 12 else ''}." if names else "None is known."
