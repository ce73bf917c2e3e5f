"""What is new for people who do not see the page."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.pure.conftest import Run


def told(alerts: dict[str, str], call: str = "") -> dict[str, Any]:
    return {"alerts": alerts, "call": call, "said": f"Decide: {call}" if call else ""}


@pytest.mark.parametrize(
    ("before", "now", "alerts", "call"),
    [
        (None, told({"a": "late"}, "defer T1"), [], None),
        (told({"a": "late"}), told({"a": "later", "b": "short"}), ["short"], None),
        (told({"a": "late"}), told({}), [], None),
        (told({}), told({}, "defer T1"), [], "Decide: defer T1"),
        (told({}, "defer T1"), told({}, "defer T1"), [], None),
        (told({}, "defer T1"), told({}, "defer T2"), [], "Decide: defer T2"),
        (told({}, "defer T1"), told({}), [], None),
    ],
)
def test_only_what_was_not_there_is_read(
    run: Run, before: dict[str, Any] | None, now: dict[str, Any], alerts: list[str], call: str | None
) -> None:
    """An alert whose words change is not new; a call to decide about something else is."""
    assert run("return modules.news.newsOf(given[0], given[1])", before, now) == {"alerts": alerts, "call": call}
