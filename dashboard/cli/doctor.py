"""The command `tetherline doctor`: finds what is wrong with a server, or with a plan and its store, and says what to do."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, NamedTuple
from urllib.parse import urlsplit

import typer
from rich.text import Text

from dashboard.cli.no_answer import no_answer
from dashboard.cli.options import single_command
from dashboard.cli.printing import listed, print_json, show
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import parse_instant
from dashboard.log.planfile import examine_plan
from dashboard.log.store import without_password
from dashboard.log.store.backup import Backup, clock, file_of, read
from dashboard.service.answers.health import clock_problem, disk_problems, free_mb, quarantine_problems
from dashboard.service.observe.clocks import Offset, asked, offset_of
from dashboard.service.trial.sieve import is_in_quarantine
from dashboard.service.version import versions
from dashboard.words import age, how_many

WAIT_S = 10.0
HERE = "http://127.0.0.1:8050"
PLAN_ENDING = ".toml"
BOTH_CLOCKS = "One of the two clocks is wrong: have both follow a time server."

app = single_command()


class Found(NamedTuple):
    """What was looked at: lines for a person, the same as plain values, and the problems found."""

    looked_at: str
    lines: list[str]
    details: dict[str, Any]
    problems: list[Problem]


@app.command()
def doctor(
    what: Annotated[
        str | None,
        typer.Argument(metavar="PLAN_OR_STORE", help="A plan file, a store file, or the address of a store. Default: a server."),
    ] = None,
    to: Annotated[str | None, typer.Option("--to", help=f"Address of the server to look at; by default {HERE}.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Say what is wrong with a server, or a plan and its store, and what to do. The exit code is 2 if there are problems."""
    if what is not None and to is not None:
        cure = "Give --to to look at a server, or PLAN_OR_STORE to look at files."
        raise InputError([Problem("doctor", "one of PLAN_OR_STORE and --to", "both", cure)])
    found = _of_server(to or HERE) if what is None else _of_files(what)
    if as_json:
        problems = [{**problem.as_dict(), "severity": problem.severity} for problem in found.problems]
        print_json({"looked_at": found.looked_at, "problems": problems, **found.details})
    else:
        _print(found)
    if found.problems:
        raise typer.Exit(2)


def _print(found: Found) -> None:
    wrong = [problem.text() for problem in found.problems]
    show(
        Text(found.looked_at),
        *(Text(f"  {line}") for line in found.lines),
        *listed("Problems", wrong),
        Text(""),
        Text("Nothing is wrong." if not wrong else f"{how_many(len(wrong), 'problem')}: each says what to do."),
    )


# --- a server -------------------------------------------------------------------------------------


def _of_server(address: str) -> Found:
    """What a server reports of itself, and what can be seen only from outside: its clock and its version."""
    base = _checked(address)
    sent = datetime.now(UTC)
    details = _health(base)
    heard = datetime.now(UTC)
    problems = [
        Problem(one["subject"], one["expected"], one["found"], one["cure"], one.get("where", ""), one.get("severity", "error"))
        for one in details.get("problems", [])
    ]
    lines = [*_lines_of_health(details)]
    offset = None
    if "now" in details:
        offset = offset_of(sent, parse_instant(details["now"]), heard)
        lines.append(f"clock of the server: {offset.in_words()} of this computer's")
        if offset.is_off:
            problems.append(clock_problem("clock of the server", offset, BOTH_CLOCKS))
    here, there = versions()["tetherline"], details.get("versions", {}).get("tetherline")
    if there is not None and there != here:
        cure = "Install the same version on both computers, and restart the server after the sortie."
        problems.append(Problem("version of the server", f"that of this command, {here}", there, cure, "", "caution"))
    clock_told = {"server_clock": None if offset is None else offset.as_dict()}
    rest = {key: value for key, value in details.items() if key != "problems"}
    return Found(f"Server {base}", lines, {**rest, **clock_told}, problems)


def _lines_of_health(details: dict[str, Any]) -> list[str]:
    if "store" not in details:
        return []
    store, viewers = details["store"], details["viewers"]
    ages = [feed["said"] for feed in details["feeds"]] or ["no feeds are followed"]
    clocks = [Offset(one["ahead_s"], one["error_s"]).in_words() for one in viewers["clocks"]]
    free = [] if store["free_mb"] is None else [f"disk of the store: {store['free_mb']} MB free"]
    database = [] if store["clock"] is None else [
        f"clock of the database: {Offset(store['clock']['ahead_s'], store['clock']['error_s']).in_words()} of the server's"
    ]  # fmt: skip
    last_s = details["cycle"]["age_s"]
    return [
        f"sortie {details['sortie']}, {details['mode']}; {'ready' if details['ready'] else 'not ready'}",
        f"store: {how_many(store['events'], 'event')}, {details['quarantined']} in quarantine, {details['unread']} unread in all",
        *free,
        *database,
        f"newest version of the board: {'none yet' if last_s is None else age(last_s)}",
        *ages,
        f"viewers: {viewers['connected']}" + (f"; their clocks: {', '.join(clocks)}" if clocks else ""),
        f"versions: {', '.join(f'{name} {found}' for name, found in details['versions'].items())}",
    ]


def _health(base: str) -> dict[str, Any]:
    """The answer of `/health`, also when the server reports that it cannot serve."""
    # The user gives the address of the server, so proxies set in the environment are not used.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(f"{base}/health", timeout=WAIT_S) as answer:
            body = answer.read()
    except urllib.error.HTTPError as wrong:
        body = wrong.read()
        if wrong.code != 503:
            raise _no_server(base, f"answer {wrong.code}", "Is this the address of a Tetherline server?") from None
    except (OSError, ValueError) as wrong:
        cure = "Start one with `tetherline serve PLAN`, or give the address of another with --to."
        raise _no_server(base, f"no answer ({no_answer(wrong)})", cure) from None
    try:
        details = json.loads(body)
        if not isinstance(details, dict) or "problems" not in details:
            raise ValueError
    except ValueError:
        raise _no_server(base, "something else", "Is this the address of a Tetherline server?") from None
    return details


def _no_server(base: str, found: str, cure: str) -> InputError:
    return InputError([Problem(f"server {base}", "a server that reports on itself", found, cure)])


def _checked(address: str) -> str:
    try:
        parts = urlsplit(address if "://" in address else f"http://{address}")
        usable = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        usable = False
    if not usable:
        cure = f"For instance --to {HERE}."
        raise InputError([Problem("option --to", "the address of a server", f"'{address}'", cure)])
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}"


# --- a plan and its store -------------------------------------------------------------------------


def _of_files(what: str) -> Found:
    """What is wrong with a plan and the store beside it, or with a store. Neither is changed."""
    lines: list[str] = []
    problems: list[Problem] = []
    sortie, store = None, what
    if "://" not in what and Path(what).suffix == PLAN_ENDING:
        plan, problems = examine_plan(Path(what))
        sortie = None if plan is None else plan.sortie.id
        lines.append(f"plan: {'cannot be followed' if plan is None else f'sortie {sortie}'}")
        store = str(Path(what).resolve().with_suffix(".log.sqlite"))
    shown, file = without_password(store), file_of(store)
    details: dict[str, Any] = {"sortie": sortie, "store": None, "versions": versions()}
    if file is not None and not file.exists() and store != what:
        lines.append(f"store: none yet; the server will make it as {file.name}")
    else:
        try:
            held = read(store)
            offset = asked(lambda: clock(store))
        except InputError as wrong:
            problems += wrong.problems
        else:
            problems += _of_store(held, offset, sortie, shown)
            lines += _lines_of_store(held, offset)
            details["store"] = {
                "rows": len(held.rows), "quarantined": _quarantined(held), "unread": _unread(held),
                "sortie": held.about.get("sortie"),
                "last_received": held.rows[-1].received if held.rows else None,
                "clock": None if offset is None else offset.as_dict(),
            }  # fmt: skip
    free = free_mb(store)
    details["free_mb"] = None if free is None else round(free)
    if free is not None:
        lines.append(f"disk of the store: {free:.0f} MB free")
        problems += disk_problems(free)
    lines.append(f"versions: {', '.join(f'{name} {found}' for name, found in versions().items())}")
    return Found(what if "://" not in what else shown, lines, details, problems)


def _lines_of_store(held: Backup, offset: Offset | None) -> list[str]:
    last = f", the last received {held.rows[-1].received}" if held.rows else ""
    unread = _unread(held)
    events = how_many(len(held.rows) - unread, "event")
    return [
        f"store: {events}, {_quarantined(held)} in quarantine, {unread} unread in all{last}",
        *([] if offset is None else [f"clock of the database: {offset.in_words()} of this computer's"]),
    ]


def _of_store(held: Backup, offset: Offset | None, sortie: str | None, where: str) -> list[Problem]:
    problems = []
    kept_for = held.about.get("sortie")
    if sortie is not None and kept_for is not None and kept_for != sortie:
        cure = "Choose the plan of that sortie, or another store."
        problems.append(Problem("event store", f"the store of sortie '{sortie}'", f"one of sortie '{kept_for}'", cure, where))
    problems += quarantine_problems(_quarantined(held))
    if offset is not None and offset.is_off:
        problems.append(clock_problem("clock of the database", offset, BOTH_CLOCKS))
    return problems


def _quarantined(held: Backup) -> int:
    return sum(is_in_quarantine(row.why or "") for row in held.rows)


def _unread(held: Backup) -> int:
    return sum(row.status == "unread" for row in held.rows)
