"""Writes the debrief as files in a folder: HTML page, PDF, tables, carry-over, and the facts as JSON.

The brief is written to a folder by the same rules (`brief_folder.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from pathlib import Path

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.debrief.facts import Debrief
from dashboard.core.plan.model import Plan
from dashboard.log.whole_file import write_together
from dashboard.reports.carry_over import carry_over_toml
from dashboard.reports.debrief_document import debrief_document
from dashboard.reports.html import html
from dashboard.reports.pdf import pdf
from dashboard.reports.tables import csv_texts, xlsx

PAGE, PAPER, BOOK, CARRY_OVER, FACTS = "debrief.html", "debrief.pdf", "tables.xlsx", "carry-over.toml", "debrief.json"
TABLES = "tables"
NAMES = (PAGE, PAPER, BOOK, CARRY_OVER, FACTS, TABLES)

Say = Callable[[str], None]


def debrief_files(
    facts: Debrief, plan: Plan, plan_text: str | None, made_at: datetime, version: str, say: Say = lambda what: None
) -> dict[str, bytes]:
    """Make every file of the debrief.

    Parameters
    ----------
    facts : Debrief
    plan : Plan
    plan_text : str or None
        Text of the plan file; its comments go into the carry-over.
    made_at : datetime
        Aware.
    version : str
        Version of the program.
    say : callable
        Called with the name of each kind of file before it is made.

    Returns
    -------
    dict of str to bytes
        Content by name in the folder. Without a carry-over file when nothing is left.
    """
    say("page")
    document = debrief_document(facts, made_at, version)
    files = {PAGE: html(document).encode(), FACTS: facts.model_dump_json(indent=1).encode()}
    say("paper")
    files[PAPER] = pdf(document)
    say("tables")
    files[BOOK] = xlsx(facts, made_at, version)
    files |= {f"{TABLES}/{name}.csv": text.encode() for name, text in csv_texts(facts, made_at, version).items()}
    say("carry-over")
    left = carry_over_toml(facts, plan, plan_text)
    if left is not None:
        files[CARRY_OVER] = left[0].encode()
    return files


def ready(folder: Path, force: bool, names: Collection[str] = NAMES, what: str = "debrief") -> None:
    """Make the folder, and check that a document may be written there.

    Parameters
    ----------
    folder : Path
    force : bool
        Whether to overwrite what is there.
    names : collection of str
        The files of the document.
    what : str
        The word for the document.

    Raises
    ------
    InputError
        When the folder is a file or cannot be made, or when such a document is there already and `force` is False.
    """
    subject = f"folder {folder}"
    if folder.exists() and not folder.is_dir():
        raise InputError([Problem(subject, "a folder to write to", "a file", "Name another folder.", str(folder))])
    there = [name for name in names if (folder / name).exists()]
    if there and not force:
        cure = "Name another folder, or give --force to write over it."
        raise InputError([Problem(subject, f"no {what} there yet", ", ".join(there), cure, str(folder))])
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise _cannot(folder, wrong) from None


def write_files(folder: Path, files: Mapping[str, bytes], names: Collection[str] = NAMES) -> None:
    """Write the files, all of them or none. What an older document had and this one has not is removed.

    Parameters
    ----------
    folder : Path
    files : mapping of str to bytes
        Content by name in the folder.
    names : collection of str
        The files that a document of this kind may have.

    Raises
    ------
    InputError
        When a file cannot be written.
    """
    try:
        write_together({folder / name: content for name, content in files.items()}, make_folders=True)
        for name in names:
            if name not in files and (folder / name).is_file():
                (folder / name).unlink()
    except OSError as wrong:
        raise _cannot(folder, wrong) from None


def _cannot(folder: Path, wrong: OSError) -> InputError:
    found = f"one that cannot be written ({wrong.strerror})"
    cure = "Check its permissions and the space on the disk. Nothing was written."
    return InputError([Problem(f"folder {folder}", "a folder to write to", found, cure, str(wrong.filename or folder))])
