"""Serves the board on a recorded run, or on a rehearsal of one, until it is interrupted."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from dashboard.cli.at import instant_at
from dashboard.cli.printing import warn
from dashboard.cli.reach import Reach
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import minutes_between
from dashboard.log.plantext import plan_to_toml
from dashboard.service.app import make_app
from dashboard.service.observe.logs import set_up_logs
from dashboard.service.opening import rehearsal_desk, replay_desk
from dashboard.service.serving import open_browser, serve
from replay.branch import LEFT_OUT_NAME, Branch
from replay.library import write_run
from replay.recording import RecordedRun


def show_run(
    run: RecordedRun,
    speed: float,
    at: str | None,
    reach: Reach,
    *,
    browser: bool,
    invented: bool = False,
    rehearse: Path | None = None,
    log_json: bool = False,
    runs: Path | None = None,
) -> None:
    """Serve the board on a recorded run until it is interrupted.

    Parameters
    ----------
    run
        The run.
    speed
        Sortie seconds per real second.
    at
        Where the replay starts: a PET or an instant; None: where PET zero becomes known.
    reach
        Where and to whom the board is served.
    browser
        Whether to open the browser.
    invented
        Whether to say that the run is invented, and to offer the guided tour.
    rehearse
        Folder for a rehearsal that begins at `at`; None: no rehearsal.
    log_json
        Whether the server's own log is written as JSON.
    runs
        Folder whose plans and runs the page ``/runs`` lists; None: none.

    Raises
    ------
    InputError
        When an option cannot be used.
    """
    warn(run.strange)
    start = None
    if at is not None:
        first_pet_min, last_pet_min = (minutes_between(run.pet_zero, end) for end in (run.first, run.last))
        start = instant_at(at, run.pet_zero, math.floor(first_pet_min), math.ceil(last_pet_min))
    if rehearse is not None and start is None:
        cure = "Give the time from which on you decide, for instance --at 2:05."
        raise InputError([Problem("option --rehearse", "--at beside it", "none", cure)])
    if rehearse is None or start is None:
        desk = replay_desk(run, speed=speed, at=start)
    else:
        desk = rehearsal_desk(run, start, branch_writer(rehearse, run), speed=speed)

    def say() -> None:
        setting = f" ({run.setting})" if run.setting else ""
        note = " The run is invented." if invented else ""
        made = "rehearsed on the run of" if run.rehearsal else "recorded"
        print(f"Replay of '{run.title}'{setting}, {made} {run.date}, at speed {speed:g}.{note}")
        if run.rehearsal:
            print(f"{run.rehearsal}.")
        if rehearse is not None:
            print(f"A rehearsal from {at} on: recorded decisions are left out. The rehearsal is kept in {rehearse}.")
            print(f"The clock is paused at {at} until someone presses Play.")
        if reach.keys.any:
            print(f"{reach.in_words()} Everyone who may enter events controls the replay.")
        say_address(reach.address)
        if browser:
            open_browser(reach.address)

    set_up_logs(log_json)
    app = make_app(desk, reach.keys, reach.hosts, reach.audit, runs, touring=invented)
    serve(app.server, reach.sock, certificate=reach.certificate, when_up=say, proxies=reach.proxies)


def branch_writer(folder: Path, run: RecordedRun) -> Callable[[Branch], None]:
    """Make a function that saves the branch of a rehearsal in a folder. At the first save the folder must not hold a run.

    Parameters
    ----------
    folder
        The folder; it is made if there is none.
    run
        The run that is rehearsed.

    Returns
    -------
    callable
        Call it with the branch; it replaces the branch that it saved before.
    """
    plan_text = plan_to_toml(run.plan)
    first = True

    def save(branch: Branch) -> None:
        nonlocal first
        unread = [line for _, line in branch.run.unread]
        write_run(folder, plan_text, branch.run.events, branch.header(), unread, replace_log=not first)
        (folder / LEFT_OUT_NAME).write_text(branch.left_out(), encoding="utf-8")
        first = False

    return save


def say_address(address: str) -> None:
    """Print the address of the board.

    Parameters
    ----------
    address
        Address to open in a browser.
    """
    print(f"The board is at {address} (Ctrl-C ends it).", flush=True)
