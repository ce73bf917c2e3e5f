"""Writes the brief as files in a folder: HTML page and PDF, the cuff pages as both, the facts as JSON, and the plan as briefed.

The plan is kept so that the next issue can be compared with this one.
"""

from __future__ import annotations

from datetime import datetime

from dashboard.core.brief.facts import Brief
from dashboard.reports.brief_document import brief_document, cuff_document
from dashboard.reports.html import html
from dashboard.reports.pdf import pdf

PAGE, PAPER, CUFF_PAGE, CUFF_PAPER, FACTS = "brief.html", "brief.pdf", "cuff.html", "cuff.pdf", "brief.json"
BRIEFED_PLAN = "briefed-plan.toml"
NAMES = (PAGE, PAPER, CUFF_PAGE, CUFF_PAPER, FACTS, BRIEFED_PLAN)


def brief_files(facts: Brief, plan: bytes, made_at: datetime, version: str) -> dict[str, bytes]:
    """Make every file of the brief.

    Parameters
    ----------
    facts
        The brief.
    plan
        Content of the plan file that it was made of.
    made_at
        Aware.
    version
        Of the program.

    Returns
    -------
    dict of str to bytes
        Content by name in the folder.
    """
    whole, cuff = brief_document(facts, made_at, version), cuff_document(facts, made_at, version)
    return {
        PAGE: html(whole).encode(), PAPER: pdf(whole), CUFF_PAGE: html(cuff).encode(), CUFF_PAPER: pdf(cuff),
        FACTS: facts.model_dump_json(indent=1).encode(), BRIEFED_PLAN: plan,
    }  # fmt: skip
