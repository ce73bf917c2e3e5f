"""Turn-back and leave-by times against published walk-back rules and limits: never later, at most 15 min earlier.

    python -m tests.bench walkback

Sources, READ unless marked, all of Apollo 17 in the Apollo Lunar Surface Journal:

- Returns are planned at 3.6 km/h and 1560 Btu/h if they take up to an hour, at 2.7 km/h and 1290 Btu/h if longer (143:23:45).
- The second sortie left station 2 at PET 3:12, with about half an hour left to the walk-back limits of oxygen and water
  (143:47:25). The station was the farthest point from the vehicle of all sorties, 7.6 km (second-hand).
- Water loaded 12.12 lb, and oxygen 1.81 lb in a suit of the mission before; mean rates of its first sortie 1090 and 1074 Btu/h.
- Ours: a limit of 7:00 without reserve, 30 min to go in, and what comes before the stop.

The rule for the time: the limit, less the 30 min, less the distance over the speed. The rule for the water: what was loaded less
the mean use up to the time, the use on the way back and that of going in, with the published 1.42 to 1.71 lb for each 1000 Btu.
What it is worth: the limit at station 2 holds by our 7:00 and 30 min, and the published uses of water lie about an hour apart.
"""

from __future__ import annotations

from typing import NamedTuple

from dashboard.core.base.minutes import clock
from dashboard.core.state.model import SortieState
from tests.scenario import follow_at, plan_of, task

KG_PER_LB = 0.45359237
W_PER_BTU_H = 0.29307107
LIMIT_MIN, IN_MIN = 420.0, 30.0
MEAN_BTU_H = 1090.0
WATER_LB, OXYGEN_LB = 12.12, 1.81
LB_PER_1000_BTU = (1.42, 1.71)
SHORT_KM_H, SHORT_BTU_H, SHORT_MIN = 3.6, 1560.0, 60.0
LONG_KM_H, LONG_BTU_H = 2.7, 1290.0
DISTANCES_KM = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.6)
LEFT_STATION_2_MIN, TO_THE_LIMIT_MIN, STATION_2_KM = 192.0, 30.0, 7.6
MOST_EARLY_MIN = 15.0
LITTLE_WATER_LB = 9.0  # so that water sets the time


class Row(NamedTuple):
    """A time of ours beside the published one, PET minutes. `latest_min` and `earliest_min` bound what is right."""

    what: str
    ours_min: float
    set_by: str
    earliest_min: float
    latest_min: float

    @property
    def holds(self) -> bool:
        """Never later than published, and not too early."""
        return self.earliest_min <= self.ours_min <= self.latest_min


def way_back(distance_km: float) -> tuple[float, float]:
    """Minutes of the way back by the published rule, and its Btu/h."""
    minutes = 60 * distance_km / SHORT_KM_H
    return (minutes, SHORT_BTU_H) if minutes <= SHORT_MIN else (60 * distance_km / LONG_KM_H, LONG_BTU_H)


def state_at(distance_km: float, water_lb: float = WATER_LB) -> SortieState:
    """The crew at a stop so far out, with work for the whole day, at PET 1:00."""
    minutes, btu_h = way_back(distance_km)
    text = (
        f'[sortie]\nid = "walk"\nstart = 2031-04-12T09:10:00Z\nlimit = {LIMIT_MIN}\n'
        '[[lane]]\nid = "CDR"\nkind = "crew"\nsuit = "CDR"\n[[lane]]\nid = "LMP"\nkind = "crew"\nsuit = "LMP"\n'
        f'[[worksite]]\nid = "stop"\nreturn = {minutes}\nreturn_workload = {btu_h * W_PER_BTU_H}\n'
        + "".join(
            f'[[suit]]\nid = "{name}"\n[suit.water]\nloaded = {water_lb * KG_PER_LB}\n'
            f"[suit.oxygen]\nloaded = {OXYGEN_LB * KG_PER_LB}\n"
            for name in ("CDR", "LMP")
        )
        + task("WORK", "CDR LMP", 0, 600, worksite="stop", closeout=0, workload=MEAN_BTU_H * W_PER_BTU_H)
        + task("IN", "CDR LMP", 600, IN_MIN, required=True, workload=MEAN_BTU_H * W_PER_BTU_H)
    )
    return follow_at(plan_of(text), "0:00 clock\n0:00 start WORK", "1:00")


def by_time_min(distance_km: float) -> float:
    """Latest PET minutes to leave by the time alone."""
    return LIMIT_MIN - IN_MIN - way_back(distance_km)[0]


def by_water_min(distance_km: float, water_lb: float, lb_per_1000_btu: float) -> float:
    """Latest PET minutes to leave by the water alone, with a use in proportion to the metabolic rate."""
    minutes, btu_h = way_back(distance_km)
    later_btu = (btu_h * minutes + MEAN_BTU_H * IN_MIN) / 60
    return 60 * (1000 * water_lb / lb_per_1000_btu - later_btu) / MEAN_BTU_H


def rows() -> list[Row]:
    """Every comparison."""
    found = []
    for distance in DISTANCES_KM:
        lane = state_at(distance).lanes["CDR"]
        rule = by_time_min(distance)
        for name, ours in (("turn back", lane.turn_back_pet_min), ("leave by", lane.leave_by_pet_min)):
            found.append(Row(f"{distance:g} km, {name}", ours or 0.0, lane.turn_back_set_by or "", rule - MOST_EARLY_MIN, rule))
    for distance in (2.0, 4.0, 6.0):
        lane = state_at(distance, LITTLE_WATER_LB).lanes["CDR"]
        most, least = (by_water_min(distance, LITTLE_WATER_LB, use) for use in LB_PER_1000_BTU)
        ours, set_by = lane.turn_back_pet_min or 0.0, lane.turn_back_set_by or ""
        found.append(Row(f"{distance:g} km, little water", ours, set_by, least, most))
    lane = state_at(STATION_2_KM).lanes["CDR"]
    published = LEFT_STATION_2_MIN + TO_THE_LIMIT_MIN
    found.append(
        Row("station 2, published limit", lane.turn_back_pet_min or 0.0, lane.turn_back_set_by or "",
            published - MOST_EARLY_MIN, published)
    )
    return found


def report() -> str:
    """All comparisons as a table; PET."""
    lines = [f"{'':<28}{'ours':>6}{'from':>7}{'to':>7}  {'':<6}set by"]
    for row in rows():
        lines.append(
            f"{row.what:<28}{clock(row.ours_min):>6}{clock(row.earliest_min):>7}{clock(row.latest_min):>7}  "
            f"{'holds' if row.holds else 'FAILS':<6}{row.set_by}"
        )
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    print(report())


if __name__ == "__main__":
    main()
