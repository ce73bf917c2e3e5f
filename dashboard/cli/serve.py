"""The command `tetherline serve`: serves the board of a live sortie until it is interrupted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.options import (
    AuditFile,
    Follow,
    Host,
    Keys,
    LeadKey,
    ListedRuns,
    LogJson,
    LogKey,
    Names,
    NoBrowser,
    PlanFile,
    Port,
    Proxies,
    TlsCert,
    TlsKey,
    single_command,
)
from dashboard.cli.printing import warn
from dashboard.cli.reach import Reach, checked
from dashboard.cli.show_run import say_address
from dashboard.core.base.problems import InputError
from dashboard.log.planfile import examine_plan
from dashboard.log.store import without_password
from dashboard.service.app import make_app
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.feeds.sources import feeds_of
from dashboard.service.observe.logs import set_up_logs
from dashboard.service.opening import live_desk
from dashboard.service.serving import open_browser, serve
from dashboard.words import date, listed

app = single_command()


@app.command("serve")
def serve_command(
    plan: PlanFile,
    store: Annotated[
        str | None,
        typer.Option(help="Store of the log, as a database URL; by default a SQLite file beside the plan."),
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8050,
    name: Names = None,
    proxy: Proxies = None,
    follow: Follow = None,
    keys: Keys = None,
    log_key: LogKey = None,
    lead_key: LeadKey = None,
    audit: AuditFile = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    runs: ListedRuns = None,
    log_json: LogJson = False,
    no_browser: NoBrowser = False,
) -> None:
    """Follow a sortie live: serve the board, take events, keep the log. Without keys everyone may record decisions."""
    reach = checked(
        host, port, name, key_file=keys, log_key=log_key, lead_key=lead_key, audit=audit, tls_cert=tls_cert, tls_key=tls_key,
        proxies=proxy,
    )
    _serve_live(plan, store, reach, follow or [], browser=not no_browser, log_json=log_json, runs=runs)


def _serve_live(
    plan_path: Path, store_url: str | None, reach: Reach, follow: Sequence[str], *, browser: bool, log_json: bool = False,
    runs: Path | None = None,
) -> None:
    """Serve the board of a live sortie until it is interrupted."""
    plan, problems = examine_plan(plan_path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        warn(problem)
    url = store_url or f"sqlite:///{plan_path.resolve().with_suffix('.log.sqlite')}"
    feeds = Feeds(feeds_of(follow, f"{plan.sortie.id} {reach.address}"))
    desk = live_desk(plan, url, feeds, "log" if reach.keys.any else "lead")
    set_up_logs(log_json)
    desk.open()  # the log is tried while the rest of the server is set up
    shown = without_password(url)

    def say() -> None:
        print(f"Sortie {plan.sortie.id} of {date(plan.sortie.start)}. The log is kept in {shown} ({desk.session.opening}).")
        print(reach.in_words())
        if feeds.names:
            may = "may enter events, not decisions" if reach.keys.any else "may enter everything"
            print(f"Follows {listed(feeds.names)}: {may}.")
        say_address(reach.address)
        if browser:
            open_browser(reach.address)

    app = make_app(desk, reach.keys, reach.hosts, reach.audit, runs, plan_path)
    serve(app.server, reach.sock, certificate=reach.certificate, when_up=say, proxies=reach.proxies)
