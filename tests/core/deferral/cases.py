"""Plans that several tests of the advice share, and the advice on a plan."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import advise
from dashboard.core.record.fold import reconcile
from tests.scenario import at, log_of, plan_of, task

LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n'
LANES += "".join(f'[[lane]]\nid = "{n}"\nkind = "crew"\nsuit = "{s}"\n' for n, s in (("EV1", "A"), ("EV2", "B")))

HOME = task("HOME", "EV1 EV2", 110, 10, required=True)
WORK = (
    task("A", "EV1", 0, 40, priority=1) + task("B", "EV1", 40, 30, priority=2, shortest=20)
    + task("C", "EV1", 70, 40, priority=3) + HOME
)

ARM_LANE = '[[lane]]\nid = "ARM"\nkind = "arm"\n'
STOP = (
    ARM_LANE + task("A", "EV1", 0, 50, priority=1) + task("LIFT", "EV1 ARM", 50, 30, priority=1, value=5) + HOME
    + '[[contingency]]\nid = "arm-stop"\nhold = ["LIFT"]\n'
    + task("C1", "ARM", None, 20, priority=3).replace("[[task]]", "[[contingency.task]]")
    + task("C2", "EV1", None, 20, priority=3).replace("[[task]]", "[[contingency.task]]")
)

ENDING = (
    task("A", "EV1", 0, 60, priority=1, value=9) + task("LONG", "EV1", 60, 60, priority=3)
    + task("SHORT", "EV1", 60, 35, priority=3, value=0.1) + HOME
    + '[[alternative]]\nid = "ending"\ntitle = "The ending"\ndefault = "long"\n'
    + '[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
)


def advised(tables, log="0:00 clock", pet="0:00", **more):
    """The advice on a plan of these tables at a PET, at plan pace unless said otherwise."""
    record = reconcile(plan_of(LANES + tables), log_of(log), parse_instant(at(pet)))
    return advise(record, **{"basis": "plan-pace", **more})
