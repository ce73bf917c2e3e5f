"""The command `tetherline replay`: the board on a recorded run, or a rehearsal that branches off one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dashboard.cli.options import (
    At,
    AuditFile,
    Host,
    Keys,
    LeadKey,
    ListedRuns,
    LogJson,
    LogKey,
    Names,
    NoBrowser,
    Port,
    Proxies,
    Speed,
    TlsCert,
    TlsKey,
    single_command,
)
from dashboard.cli.reach import checked
from dashboard.cli.show_run import show_run
from replay import recording

app = single_command()


@app.command()
def replay(
    run: Annotated[
        Path, typer.Argument(metavar="RUN", help="The run: its log, or the folder with its plan and log.")
    ],
    plan: Annotated[
        Path | None, typer.Option(help="The plan, if it is not plan.toml beside the log.")
    ] = None,
    host: Host = "127.0.0.1",
    port: Port = 8050,
    name: Names = None,
    proxy: Proxies = None,
    speed: Speed = 60.0,
    at: At = None,
    keys: Keys = None,
    log_key: LogKey = None,
    lead_key: LeadKey = None,
    audit: AuditFile = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    runs: ListedRuns = None,
    log_json: LogJson = False,
    no_browser: NoBrowser = False,
    as_it_was: Annotated[
        bool, typer.Option("--as-it-was", help="Show events at their real times, not when the room received them.")
    ] = False,
    rehearse: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Rehearse: from --at on you decide. The rehearsal is kept in this folder."),
    ] = None,
) -> None:
    """Show the board on a recorded run of your own. If the server has keys, moving its clock needs the log key."""
    recorded = recording.load_run(run, plan)
    shown = recording.as_it_was(recorded) if as_it_was else recorded
    reach = checked(
        host, port, name, key_file=keys, log_key=log_key, lead_key=lead_key, audit=audit, tls_cert=tls_cert, tls_key=tls_key,
        proxies=proxy,
    )
    show_run(shown, speed, at, reach, browser=not no_browser, rehearse=rehearse, log_json=log_json, runs=runs)
