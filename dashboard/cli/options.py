"""Options and arguments that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Host = Annotated[str, typer.Option(help="Address to serve on. The default serves this computer only.")]
Proxies = Annotated[
    list[str] | None,
    typer.Option(
        "--proxy", metavar="ADDRESS", envvar="TETHERLINE_PROXY", show_envvar=True,
        help="Address or network of a proxy before this server. What it says of the sender in X-Forwarded-For and "
        "X-Forwarded-Proto counts; without this option it never does.",
    ),
]
Names = Annotated[
    list[str] | None,
    typer.Option("--name", help="Name by which other computers reach this one. Requests under any other name are refused."),
]
Port = Annotated[int, typer.Option(min=0, max=65535, help="Port to serve on; 0 means any free one.")]
Speed = Annotated[float, typer.Option(min=1, max=600, help="Sortie seconds per real second.")]
At = Annotated[
    str | None,
    typer.Option(help="Time of the sortie: a PET such as 2:05, or an instant such as 2031-04-12T11:15:00Z."),
]
LogKey = Annotated[
    str | None,
    typer.Option(envvar="TETHERLINE_LOG_KEY", show_envvar=True, help="One key for everyone who may enter events."),
]
LeadKey = Annotated[
    str | None,
    typer.Option(envvar="TETHERLINE_LEAD_KEY", show_envvar=True, help="One key for everyone who may record decisions as well."),
]
Keys = Annotated[
    Path | None,
    typer.Option("--keys", metavar="FILE", envvar="TETHERLINE_KEYS", show_envvar=True,
                 help="The key file: which people may do what. Changes to it take effect within seconds."),
]
AuditFile = Annotated[
    Path | None,
    typer.Option("--audit", metavar="FILE", help="Record refusals in this file too, not only on standard error."),
]
TlsCert = Annotated[
    Path | None, typer.Option("--tls-cert", metavar="FILE", help="Certificate for HTTPS, with its chain (PEM).")
]
TlsKey = Annotated[Path | None, typer.Option("--tls-key", metavar="FILE", help="Private key of the certificate (PEM).")]
NoBrowser = Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")]
Follow = Annotated[
    list[str] | None,
    typer.Option(
        metavar="SOURCE",
        help="Also take events from this source: a growing file (JSON Lines or CSV), - for standard input, or "
        "mqtt://host:port/topic. May be given several times.",
    ),
]
LogJson = Annotated[
    bool,
    typer.Option("--log-json", help="Write the server's own log on standard error as JSON, one object per line."),
]
ListedRuns = Annotated[
    Path | None,
    typer.Option("--runs", metavar="FOLDER", help="List the plans and recorded runs of this folder on the page /runs."),
]
LogFile = Annotated[Path, typer.Argument(metavar="LOG", help="The event log (JSON Lines or CSV).")]
RunsFolder = Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder with recorded runs in it or in its folders.")]
PlanOption = Annotated[Path, typer.Option("--plan", help="The plan file (TOML).")]
Json = Annotated[bool, typer.Option("--json", help="Print everything as JSON.")]
PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file (TOML).")]


def single_command() -> typer.Typer:
    """Make the Typer application for the command of a module, with help as plain text."""
    return typer.Typer(
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
