"""The commands that serve the board: on a recorded run, or on a live sortie."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from dashboard.cli.at import instant_at
from dashboard.cli.state import warn
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import minutes_between
from dashboard.log.planfile import examine_plan
from dashboard.log.plantext import plan_to_toml
from dashboard.service.app import make_app
from dashboard.service.gate import hosts_of
from dashboard.service.rehearsal import RehearsalFeed
from dashboard.service.roles import Keys
from dashboard.service.serving import (
    address_of,
    listening_socket,
    live_desk,
    open_browser,
    replay_desk,
    serve,
    without_password,
)
from dashboard.words import date
from replay.branch import LEFT_OUT_NAME, Branch
from replay.library import write_run
from replay.recording import RecordedRun, packaged_scenarios


def demo_log() -> Path:
    """The recorded run that `tetherline demo` shows: the newest of the first scenario that comes along."""
    logs = [
        log for folder in packaged_scenarios().values() for log in sorted(folder.glob("run-*.jsonl"))[-1:]
    ]
    if not logs:
        cure = "Install the program again."
        raise InputError([Problem("demo", "a recorded run that comes with the program", "none", cure)])
    return logs[0]


def show_run(
    run: RecordedRun,
    host: str,
    port: int,
    speed: float,
    at: str | None,
    *,
    browser: bool,
    invented: bool = False,
    rehearse: Path | None = None,
    keys: Keys | None = None,
) -> None:
    """Serve the board on a recorded run until interrupted; with `rehearse`, a branch from `at` on, saved in that folder."""
    warn(run.strange)
    start = None
    if at is not None:
        first_pet_min, last_pet_min = (minutes_between(run.pet_zero, end) for end in (run.first, run.last))
        start = instant_at(at, run.pet_zero, math.floor(first_pet_min), math.ceil(last_pet_min))
    feed = None
    if rehearse is not None:
        if start is None:
            cure = "Say from when on the decisions are the trainee's: --at 2:05"
            raise InputError([Problem("option --rehearse", "--at beside it", "none", cure)])
        feed = RehearsalFeed(run, start, branch_writer(rehearse, run))
    sock = listening_socket(host, port)
    desk = replay_desk(run, speed=speed, at=start, playing=rehearse is None, feed=feed)
    address = address_of(sock)

    def say() -> None:
        setting = f" ({run.setting})" if run.setting else ""
        note = " The run is invented." if invented else ""
        made = "rehearsed on the run of" if run.rehearsal else "recorded"
        print(f"Replay of '{run.title}'{setting}, {made} {run.date}, at speed {speed:g}.{note}")
        if run.rehearsal:
            print(f"{run.rehearsal}.")
        if rehearse is not None:
            print(f"A rehearsal from {at} on: recorded decisions are left out. The branch is kept in {rehearse}.")
            print("The clock stands there until someone presses Play.")
        if keys is not None and keys.any:
            print(f"{keys.in_words(others=hosts_of(host) is None)} The replay is controlled by whoever may enter events.")
        _say_address(address)
        if browser:
            open_browser(address)

    serve(make_app(desk, keys, hosts_of(host)).server, sock, when_up=say)


def branch_writer(folder: Path, run: RecordedRun) -> Callable[[Branch], None]:
    """Saves a branch in a folder of its own, each time anew; the folder must not hold a run at first."""
    plan_text = plan_to_toml(run.plan)
    first = True

    def save(branch: Branch) -> None:
        nonlocal first
        unread = [line for _, line in branch.run.unread]
        write_run(folder, plan_text, branch.run.events, branch.header(), unread, replace_log=not first)
        (folder / LEFT_OUT_NAME).write_text(branch.left_out(), encoding="utf-8")
        first = False

    return save


def serve_live(
    plan_path: Path, store_url: str | None, host: str, port: int, keys: Keys, *, browser: bool
) -> None:
    """Serve the board of a live sortie until interrupted."""
    plan, problems = examine_plan(plan_path)
    if plan is None:
        raise InputError(problems)
    for problem in problems:
        warn(problem)
    sock = listening_socket(host, port)
    url = store_url or f"sqlite:///{plan_path.resolve().with_suffix('.log.sqlite')}"
    desk = live_desk(plan, url)
    address, shown = address_of(sock), without_password(url)

    def say() -> None:
        print(f"Sortie {plan.sortie.id} of {date(plan.sortie.start)}. The log is kept in {shown}.")
        print(keys.in_words(others=hosts_of(host) is None))
        _say_address(address)
        if browser:
            open_browser(address)

    serve(make_app(desk, keys, hosts_of(host)).server, sock, when_up=say)


def _say_address(address: str) -> None:
    print(f"The board is at {address} (Ctrl-C ends it).", flush=True)
