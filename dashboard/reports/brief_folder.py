"""Writes the brief as files in a folder: HTML page and PDF, the cuff pages as both, and the facts as JSON."""

from __future__ import annotations

from datetime import datetime

from dashboard.core.brief.facts import Brief
from dashboard.reports.brief_document import brief_document, cuff_document
from dashboard.reports.html import html
from dashboard.reports.pdf import pdf

PAGE, PAPER, CUFF_PAGE, CUFF_PAPER, FACTS = "brief.html", "brief.pdf", "cuff.html", "cuff.pdf", "brief.json"
NAMES = (PAGE, PAPER, CUFF_PAGE, CUFF_PAPER, FACTS)


def brief_files(facts: Brief, made_at: datetime, version: str) -> dict[str, bytes]:
    """Make every file of the brief.

    Parameters
    ----------
    facts
        The brief.
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
        FACTS: facts.model_dump_json(indent=1).encode(),
    }  # fmt: skip
