"""Every finding has its line in the one table."""

from __future__ import annotations

import re
from pathlib import Path

import dashboard.core.outlook
import dashboard.core.plan
from dashboard.core.plan.finding_kinds import FINDING_KINDS, FORECAST, STRUCTURE


def codes_in(*packages: object) -> set[str]:
    """Every word in quotes that has the form of a code, in the modules of these packages."""
    files = [path for package in packages for path in Path(package.__file__).parent.glob("*.py")]
    texts = [path.read_text(encoding="utf-8") for path in files if path.name != "finding_kinds.py"]
    return {word for text in texts for word in re.findall(r'"([a-z]+(?:-[a-z]+)*)"', text)}


def test_every_kind_is_used():
    """A kind that no check finds any more would explain nothing."""
    assert STRUCTURE.keys() - {"file"} <= codes_in(dashboard.core.plan)
    assert FORECAST.keys() <= codes_in(dashboard.core.outlook)


def test_every_kind_is_explained_in_whole_sentences():
    """What it is, and what follows."""
    for code, kind in FINDING_KINDS.items():
        for sentence in kind:
            assert re.fullmatch(r"[A-Z].+\.", sentence), code
