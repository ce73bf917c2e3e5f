"""The dialog of reasons says what each derived number rests on, and says in words what is not known."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

from dashboard import words
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.times import parse_instant
from dashboard.core.state.follow import follow
from dashboard.core.state.history import drift
from dashboard.screens.why import why_html
from tests.scenario import SORTIE, at, lanes, log_of, plan_of, suit, task

PLAN = plan_of(
    f"[sortie]\n{SORTIE}\n" + lanes({"EV1": "A", "EV2": None})
    + suit("A", water={"loaded": 4.0, "reserve": 0.4, "base": 0.6, "per_watt": 0}, oxygen={"loaded": 0.6, "reserve": 0.05})
    + task("A", "EV1", 0, [25, 30, 45], title="Carry the tray") + task("B", "EV1", 30, [40, 60, 90], title="Fit <it>")
    + task("C", "EV2", 0, [40, 60, 80])
)  # fmt: skip
LOG = "0:00 clock\n0:00 start A\n0:00 start C\n0:35 done A\n0:36 reading A water=3.4"


def shown(pet="0:40", log=LOG, plan=PLAN):
    """The dialog as plain text."""
    events, now = log_of(log), parse_instant(at(pet))
    state = follow(plan, events, now)
    piece = why_html(plan, state, drift(plan, events, now))
    whole = ElementTree.fromstring(f"<div>{piece}</div>")
    return " ".join(" ".join(whole.itertext()).split()), state, whole


def row(whole, name):
    """The texts of the first table row headed `name`."""
    return next(
        [" ".join("".join(cell.itertext()).split()) for cell in line]
        for line in whole.iter("tr") if "".join(line[0].itertext()) == name
    )  # fmt: skip


def test_it_says_what_it_rests_on():
    """Plan, number of events, last event, PET, and the caution."""
    said, state, _ = shown()
    assert "As of PET 0:40" in said and "Rests on the briefed plan, and on 5 events" in said
    assert f"Last event: {state.basis.last_event}" in said
    assert CAUTION in said


def test_the_end_with_its_spread_its_chain_and_its_drivers():
    """The figures of the state, the chain by name and title, the pace as a driver."""
    said, state, whole = shown()
    assert "At plan pace: PET 1:40" in said and "(P10 to P90)" in said
    assert "Sets the end: B Fit <it>. It starts with B" in said
    driver = next(one for one in state.end.drivers if one.task == "B")
    shares = [f"{round(100 * driver.sets_end)} % of simulated runs", f"{round(100 * driver.spread_share)} %"]
    assert row(whole, "B Fit <it>")[1:] == shares
    assert row(whole, "the pace that all tasks share")[1] == "does not apply"
    assert state.end.p50_pet_min is not None and "P50 PET 1:" in said


def test_the_pace_is_said_with_how_sure_it_is():
    """One task finished in EV1: the number and its range, and that it is too few to tell; none finished in EV2."""
    _, state, whole = shown()
    name, said, count = row(whole, "EV1")
    assert (name, count) == ("EV1", "1 finished task")
    assert said == words.pace(state.lanes["EV1"]) and said.endswith("too few to tell")
    assert row(whole, "EV2")[1] == "no finished task tells of it yet"


def test_a_consumable_shows_how_its_margin_came_about():
    """Water: 3.4 kg read at 0:36; what was never read says so."""
    _, state, whole = shown()
    water = row(whole, "water")
    assert water[2] == "3.4 kg at PET 0:36" and water[3] == "0.40 kg"
    assert water[6] == f"+{round(100 * (state.suits['A'].consumables['water'].factor - 1))} %"
    assert water[7].startswith("PET ") and water[8].endswith("in hand")
    assert row(whole, "oxygen")[2] == "none yet"


def test_each_rate_names_where_it_comes_from():
    """The plan's own, or a default with its source."""
    said, _, _ = shown()
    assert "water: rate of the plan" in said
    assert "oxygen: default rate from Weir relation" in said


def test_every_time_carries_the_name_of_its_clock():
    """H:MM stands after PET or UTC, in a range of PET, or on the axis headed PET."""
    _, _, whole = shown()
    for svg in list(whole.iter("div")):
        for drawing in svg.findall("svg"):
            svg.remove(drawing)
    said = " ".join(whole.itertext())
    times = list(re.finditer(r"\d{1,2}:\d\d", said))
    assert len(times) > 8
    for found in times:
        assert re.search(r"(PET|UTC)[ \d:]*( to )?$", said[: found.start()]), said[max(0, found.start() - 30) : found.end()]


def test_before_pet_zero_it_says_what_cannot_be_drawn():
    """No drift, no invented line."""
    events, now = [], parse_instant("2031-04-12T09:00:00Z")
    said = why_html(PLAN, follow(PLAN, events, now), drift(PLAN, events, now))
    assert "Nothing to draw before PET zero." in said and "<svg" not in said


def test_a_plan_without_suits_says_what_to_do():
    """The empty state names its cure."""
    said, _, _ = shown(log="0:00 clock", plan=plan_of(task("A", "EV1", 0, 30)))
    assert "Add [[suit]] tables" in said


def test_when_over_it_says_when_it_ended():
    """No chance and no drivers of an end that has happened."""
    said, _, _ = shown("2:00", LOG + "\n0:36 start B\n0:55 done C\n1:30 done B\n1:40 end")
    assert "Inside at PET 1:30, 3 h 19 min before the limit; sortie closed at PET 1:40" in said and "drives the end" not in said
