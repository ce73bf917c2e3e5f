"""The command `tetherline demo`: shows the board on the invented run that comes with the program."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli.options import (
    At,
    Host,
    LogJson,
    Names,
    NoBrowser,
    Port,
    Speed,
    TlsCert,
    TlsKey,
    single_command,
)
from dashboard.cli.reach import checked
from dashboard.cli.show_run import show_run
from dashboard.core.base.problems import InputError, Problem
from replay.recording import load_run, packaged_scenarios

app = single_command()


@app.command()
def demo(
    host: Host = "127.0.0.1",
    port: Port = 8050,
    name: Names = None,
    speed: Speed = 60.0,
    at: At = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    log_json: LogJson = False,
    no_browser: NoBrowser = False,
) -> None:
    """Show the board on the invented run that comes with the program. Works offline."""
    log = _demo_log()
    run = load_run(log)
    reach = checked(host, port, name, tls_cert=tls_cert, tls_key=tls_key)
    show_run(run, speed, at, reach, browser=not no_browser, invented=True, log_json=log_json, runs=log.parent)


def _demo_log() -> Path:
    """The log that `tetherline demo` shows: the newest run of the first packaged scenario.

    Raises
    ------
    InputError
        When the installation holds no recorded run.
    """
    logs = [
        log for folder in packaged_scenarios().values() for log in sorted(folder.glob("run-*.jsonl"))[-1:]
    ]
    if not logs:
        cure = "Install the program again."
        raise InputError([Problem("demo", "a recorded run that comes with the program", "none", cure)])
    return logs[0]
