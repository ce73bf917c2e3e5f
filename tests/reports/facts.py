"""A small sortie with a bit of everything, debriefed."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from dashboard.core.plan.model import Plan
from tests.scenario import at, lanes, log_of, plan_of, suit, task

MADE_AT = datetime(2031, 4, 13, 8, 0, tzinfo=UTC)
VERSION = "9.8.7"
LANES = lanes({"EV1": "A", "EV2": None}) + suit("A", water={"loaded": 3.5, "reserve": 0.4})
HEAD = '[sortie]\nid = "t"\ntitle = "Tray"\nstart = 2031-04-12T09:10:00Z\nlimit = "7:00"\nreserve = 30\n'
PLAN = (
    HEAD + LANES
    + task("T010", "EV1", 0, 30, title="Unstow <pump>")
    + task("T020", "EV1", 30, [20, 30, 50], title="Carry the pump", closeout=4, after=["T010"])
    + task("T030", "EV2", 0, 60, title="Prepare tray")
    + task("T040", "EV1 EV2", 65, 20, title="Swap tray", after=["T020", "T030"])
    + task("T050", "EV2", 90, 20, title="=SUM(1)", shortest=10)
    + task("T060", "EV2", None, 15, title="Spare clamp", get_ahead=True, after=["T030"])
)
LOG = """
    0:00 clock
    0:00 start T010
    0:00 start T030
    0:35 done T010
    0:36 start T020
    0:50 hold T020 reason=reel
    0:58 resume T020
    1:00 reading A water=2.9
    1:00 done T030
    1:13 estimate T020 remaining=9
    1:15 break_off T020
    1:15 defer T040
    1:20 start T050
    1:44 done T050
    1:45 end
"""


def plan() -> Plan:
    return plan_of(PLAN)


@cache
def ended() -> Debrief:
    """The whole sortie."""
    unread = [Unread(line="{" + "x" * 1000, why="expected one JSON object; found something else", where="line 7")]
    return debrief(plan(), log_of(LOG), parse_instant(at("1:45")), unread=unread, draws=200)


@cache
def so_far() -> Debrief:
    """The same at PET 0:55, in the hold."""
    return debrief(plan(), log_of(LOG), parse_instant(at("0:55")), draws=200)


REHEARSED = "Rehearsal of Pool <run> 3 from PET 0:40, not a recorded run"


@cache
def rehearsed() -> Debrief:
    """The whole sortie, as a rehearsal."""
    return ended().model_copy(update={"rehearsal": REHEARSED})


@cache
def nothing() -> Debrief:
    """Before PET zero, with an empty log."""
    return debrief(plan(), [], parse_instant(at("-0:05")), draws=200)
