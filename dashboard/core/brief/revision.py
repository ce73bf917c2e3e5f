"""The revision of a plan: a digest of its content."""

from __future__ import annotations

import hashlib
import json

from dashboard.core.plan.model import Plan

LETTERS = 12


def revision_of(plan: Plan) -> str:
    """The revision of a plan.

    Parameters
    ----------
    plan
        As briefed.

    Returns
    -------
    str
        Hexadecimal letters. Comments, layout and the spelling of times in the file do not count; every value of the plan does.
    """
    content = json.dumps(plan.model_dump(mode="json", by_alias=True), sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(content.encode()).hexdigest()[:LETTERS]
