"""The command `tetherline serve`: serves the board of a live sortie until it is interrupted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.options import Host, LeadKey, LogKey, Names, NoBrowser, PlanFile, Port, single_command
from dashboard.cli.printing import warn
from dashboard.cli.show_run import say_address
from dashboard.core.base.problems import InputError
from dashboard.log.planfile import examine_plan
from dashboard.log.store import without_password
from dashboard.service.app import make_app
from dashboard.service.http.gate import checked_reach, hosts_of
from dashboard.service.opening import live_desk
from dashboard.service.roles import Keys
from dashboard.service.serving import address_of, listening_socket, open_browser, serve
from dashboard.words import date

app = single_command()


@app.command("serve")
def serve_command(
    plan: PlanFile,
    store: Annotated[
        str | None,
        typer.Option(help="Where the log is kept, as a database URL; the default is a file beside the plan."),
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8050,
    name: Names = None,
    log_key: LogKey = None,
    lead_key: LeadKey = None,
    no_browser: NoBrowser = False,
) -> None:
    """Follow a sortie live: serve the board, take events, keep the log. Without keys everyone may record decisions."""
    serve_live(plan, store, host, port, Keys(log_key, lead_key), names=name or [], browser=not no_browser)


def serve_live(
    plan_path: Path, store_url: str | None, host: str, port: int, keys: Keys, *, names: Sequence[str] = (), browser: bool
) -> None:
    """Serve the board of a live sortie until interrupted."""
    plan, problems = examine_plan(plan_path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        warn(problem)
    sock = listening_socket(host, port)
    hosts = checked_reach(host, names, keys)
    url = store_url or f"sqlite:///{plan_path.resolve().with_suffix('.log.sqlite')}"
    desk = live_desk(plan, url)
    address, shown = address_of(sock), without_password(url)

    def say() -> None:
        print(f"Sortie {plan.sortie.id} of {date(plan.sortie.start)}. The log is kept in {shown} ({desk.session.opening}).")
        print(keys.in_words(others=hosts_of(host) is None))
        say_address(address)
        if browser:
            open_browser(address)

    serve(make_app(desk, keys, hosts).server, sock, when_up=say)
