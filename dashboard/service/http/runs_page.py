"""The page of plans, runs and rehearsals: what was planned and run, how it went, and a form to set two runs side by side."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from dashboard import words
from dashboard.core.base.caution import CAUTION
from dashboard.markup import Markup, tag, text
from dashboard.reports.html import links_of, whole_page
from dashboard.service.answers.run_lists import RunList
from replay.campaign import Campaign, PlannedSortie

TITLE = "Plans and runs"
NO_FOLDER = (
    "This server was not told where recorded runs are kept. Start it with --runs FOLDER, and the plans, runs and rehearsals in "
    "that folder are listed here."
)
NO_RUN = "No run is recorded yet. A run is a folder with plan.toml and log.jsonl."
RUN_HEADS = ("First", "Second", "Run", "Setting", "Date", "Sortie", "Length", "Worst behind", "Ended", "Remarks")
SORTIE_HEADS = ("Sortie", "Title", "Planned for", "Tasks", "Runs", "Rehearsals", "Plan files")
CARRIED_HEADS = ("Run", "Task", "Title", "Because", "Remains", "Taken by")


def runs_html(found: RunList | None, folder: str) -> Markup:
    """The page.

    Parameters
    ----------
    found : RunList or None
        None: the server has no folder of runs.
    folder : str
        Name of the folder.

    Returns
    -------
    Markup
    """
    body = [links_of([("/", "The board")]), tag("h1", text(TITLE)), tag("p", text(CAUTION), class_="caution")]
    if found is None:
        return whole_page(TITLE, "", [*body, tag("p", text(NO_FOLDER))])
    readable = [row for row in found.rows if not row["why"]]
    return whole_page(TITLE, "", [
        *body, tag("p", text(f"In the folder {folder}, and in the folders below it.")),
        *_runs(readable), *_sorties(found.campaign), *_carried(found.campaign), *_unused(found.campaign),
    ])  # fmt: skip


def _runs(rows: list[dict[str, Any]]) -> list[Markup]:
    if not rows:
        return [tag("h2", text("Runs")), tag("p", text(NO_RUN))]
    brief = tag("label", tag("input", type="radio", name="second", value="", checked=True), text(" the brief of the first"))
    body = [_run(row, place == 0) for place, row in enumerate(rows)]
    form = tag(
        "form", _table(RUN_HEADS, body), tag("p", text("Second: one of the runs, or "), brief),
        tag("p", tag("button", text("Set side by side"), type="submit")), action="/runs/compare", method="get",
    )  # fmt: skip
    return [tag("h2", text(f"Runs ({len(rows)})")), form]


def _run(row: dict[str, Any], is_first: bool) -> list[Markup]:
    name = row["name"]
    pick = [
        tag("input", type="radio", name=place, value=name, checked=is_first and place == "first", aria_label=f"{place}: {name}")
        for place in ("first", "second")
    ]
    worst = row["worst_behind_min"]
    remarks = [row["mark"], row["pet_zero_doubt"], row["strange"]]
    remarks += [f"{words.how_many(row['unread'], 'line')} not understood"] if row["unread"] else []
    said = (
        row["setting"], row["date"], row["sortie"], words.duration(row["length_min"]),
        "not known" if worst is None else words.duration(worst, "up"), "yes" if row["ended"] else "no",
        "; ".join(one for one in remarks if one),
    )  # fmt: skip
    opened = tag("a", text(name), href=f"/runs/debrief?run={quote(name, safe='')}")
    return [*pick, opened, *(text(one) for one in said)]


def _sorties(campaign: Campaign) -> list[Markup]:
    rows = [
        [text(one.sortie), text(one.title), text(one.date), text(one.tasks), text(", ".join(one.runs) or "not run yet"),
         text(", ".join(one.rehearsals) or "none"),
         _files(one)]
        for one in campaign.sorties
    ]  # fmt: skip
    return [tag("h2", text(f"Sorties ({len(rows)})")), _table(SORTIE_HEADS, rows)] if rows else []


def _files(one: PlannedSortie) -> Markup:
    """The plan files, each leading to its brief."""
    opened = [tag("div", tag("a", text(name), href=f"/runs/brief?plan={quote(name, safe='')}")) for name in one.files]
    return tag("div", *opened, text(f"{one.plans} different plans" if one.plans > 1 else ""))


def _carried(campaign: Campaign) -> list[Markup]:
    rows = [
        [text(one.run), text(one.task), text(one.title), text(one.because), text(words.duration(one.remaining_min, "up")),
         text(one.taken_by or "no later sortie yet")]
        for one in campaign.carried
    ]  # fmt: skip
    return [tag("h2", text("Left by the runs")), _table(CARRIED_HEADS, rows)] if rows else []


def _unused(campaign: Campaign) -> list[Markup]:
    if not campaign.unused:
        return []
    listed = (tag("li", text(f"{one.name}: {one.why}")) for one in campaign.unused)
    return [tag("h2", text("Cannot be used")), tag("ul", *listed)]


def _table(heads: tuple[str, ...], rows: list[list[Markup]]) -> Markup:
    head = tag("tr", *(tag("th", text(one), scope="col") for one in heads))
    body = (tag("tr", *(tag("td", cell) for cell in row)) for row in rows)
    return tag("div", tag("table", tag("thead", head), tag("tbody", *body)), class_="scroll", tabindex="0")
