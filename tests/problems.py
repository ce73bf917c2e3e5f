"""One way to assert a problem: its four parts, each by the words that matter."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard.core.base.problems import Problem


def assert_problem(
    problem: Problem,
    *,
    subject: str,
    expected: str,
    found: str,
    cure: str,
    where: str | None = None,
    severity: str = "error",
) -> None:
    """Each part of the problem contains these words, and its severity is this one."""
    parts = {"subject": subject, "expected": expected, "found": found, "cure": cure, "where": where}
    for part, words in parts.items():
        if words is not None:
            text = getattr(problem, part)
            assert words in text, f"{part}: expected {words!r} in {text!r} of: {problem.text()}"
    assert problem.severity == severity, problem.text()


def the_only(problems: Iterable[Problem]) -> Problem:
    """The one problem there is."""
    found = list(problems)
    assert len(found) == 1, "\n".join(problem.text() for problem in found) or "no problem"
    return found[0]


def about(problems: Iterable[Problem], words: str) -> Problem:
    """The one problem whose subject contains `words`."""
    return the_only(problem for problem in problems if words in problem.subject)
