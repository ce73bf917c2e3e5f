"""Opens a desk with advice and trials of events: for a live sortie, a recorded run, or a rehearsal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.access.roles import Role
from dashboard.service.adviser import Adviser, beside_maker
from dashboard.service.beside.process import Beside
from dashboard.service.compute import AdvisedCompute, KeptView
from dashboard.service.desk import Desk
from dashboard.service.feeds.feeds import Feeds
from dashboard.service.observe.metrics import Metrics
from dashboard.service.session.live import LiveSession
from dashboard.service.session.rehearsal import RehearsalSession
from dashboard.service.session.replay import REPLAY_SPEED, ReplaySession
from dashboard.service.session.session import Session
from dashboard.service.trial.process import TrialProcess
from dashboard.service.trial.sieve import Sieve
from replay.branch import Branch
from replay.recording import RecordedRun


def live_desk(plan: Plan, store_url: str, feeds: Feeds | None = None, feeds_role: Role = "lead") -> Desk:
    """Open a desk that follows a sortie as it happens.

    Parameters
    ----------
    plan
        The briefed plan.
    store_url
        Address of the store that keeps the events.
    feeds
        Sources that bring events as well; None: there are none.
    feeds_role
        What feeds may enter.

    Returns
    -------
    Desk
        Not started yet; see `Desk.open`.

    Raises
    ------
    InputError
        When the store cannot be opened or belongs to another sortie.
    """
    return opened(LiveSession(plan, EventStore(store_url, plan.sortie.id)), feeds, feeds_role)


def replay_desk(
    run: RecordedRun, *, speed: float = REPLAY_SPEED, at: datetime | None = None, playing: bool = True
) -> Desk:
    """Open a desk that replays a recorded run.

    Parameters
    ----------
    run
        The run.
    speed
        Sortie seconds per real second.
    at
        Instant at which the replay starts; None: where PET zero becomes known.
    playing
        Whether the clock runs at first.

    Returns
    -------
    Desk
        Not started yet; see `Desk.open`.
    """
    return opened(ReplaySession(run, at=at, speed=speed, playing=playing))


def rehearsal_desk(
    run: RecordedRun, rehearsed_from: datetime, save: Callable[[Branch], None], *,
    speed: float = REPLAY_SPEED, at: datetime | None = None,
) -> Desk:
    """Open a desk for a rehearsal, in which a trainee makes the decisions of a recorded run.

    Parameters
    ----------
    run
        The run.
    rehearsed_from
        The instant from which the recorded decisions are left out.
    save
        Called with the branch of the run after each change.
    speed
        Sortie seconds per real second.
    at
        Instant at which the clock stands at first; None: `rehearsed_from`.

    Returns
    -------
    Desk
        Not started yet; see `Desk.open`.
    """
    return opened(RehearsalSession(run, rehearsed_from, save, at=at, speed=speed))


def opened(session: Session, feeds: Feeds | None = None, feeds_role: Role = "lead") -> Desk:
    """Open a desk on a session, with its processes for trials, advice, reports and answers.

    Parameters
    ----------
    session
        Of any kind.
    feeds
        Sources that bring events as well; None: there are none.
    feeds_role
        What feeds may enter.

    Returns
    -------
    Desk
        Not started yet; see `Desk.open`.
    """
    metrics = Metrics()
    beside, reports, answers = (Beside(session.plan, name) for name in ("advice", "reports", "answers"))
    adviser = Adviser(took=metrics.advice_took, maker=beside_maker(beside))
    compute = AdvisedCompute(adviser)

    def close() -> None:
        beside.close()
        reports.close()
        answers.close()
        compute.close()

    desk = Desk(
        session, compute=compute, sieve=Sieve(TrialProcess(session.plan, KeptView())), feeds=feeds, feeds_role=feeds_role,
        metrics=metrics, reports=reports, answers=answers, on_close=close,
    )
    adviser.when_new = desk.ask  # so that new advice is shown at once, and not at the next tick
    return desk
