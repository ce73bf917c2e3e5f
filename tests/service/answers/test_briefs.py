"""The brief of a desk's plan, and what the presenter shows."""

from __future__ import annotations

import asyncio

from dashboard.core.brief.look_ahead import brief
from dashboard.service.answers import briefs as module
from dashboard.service.answers.briefs import Briefs, Presenting, Shown


def test_the_brief_is_computed_once(desk, monkeypatch):
    """However many ask at the same time; the papers are kept too."""
    made = []
    monkeypatch.setattr(module, "brief", lambda plan: made.append(plan) or brief(plan, draws=0))
    briefs = Briefs(desk)

    async def ask():
        return await asyncio.gather(briefs.facts(), briefs.facts(), briefs.paper("cuff"), briefs.paper("cuff"))

    first, second, *papers = asyncio.run(ask())
    assert first is second and papers[0] is papers[1] and papers[0].startswith(b"%PDF-")
    assert made == [desk.plan]


def test_whoever_follows_along_is_woken():
    """At each change, until they leave; of two presenters the later one counts."""
    presenting, woken = Presenting(), []
    leave = presenting.subscribe(lambda: woken.append(presenting.shown))
    presenting.show(Shown(2, by="A. Person"))
    presenting.show(Shown(5, in_time=True))
    leave()
    presenting.show(Shown(None))
    assert woken == [Shown(2, False, "A. Person"), Shown(5, True, "")] and presenting.shown == Shown()
