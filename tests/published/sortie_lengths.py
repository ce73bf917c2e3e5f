"""Planned and actual length of 41 real sorties whose plan was published before the outcome was known.

Minutes. READ: in the text named for the plan (a status report, a news text, a broadcast notice) and in the one named for the
actual length. Most plans were stated to the half hour. The lengths contain what rooms cut and added on the way, so they bound
from below how far a sortie runs from its plan if nothing is cut.
"""

from __future__ import annotations

from typing import NamedTuple


class SortieLength(NamedTuple):
    """One sortie: minutes as planned and as it was, and where each was read."""

    name: str
    planned_min: int
    actual_min: int
    planned_in: str
    actual_in: str


SORTIES = (
    SortieLength(
        "Apollo 16 EVA-2", 420, 443,
        "Apollo 16 Lunar Surface Journal commentary", "NASA open EVA table",
    ),
    SortieLength(
        "STS-109 EVA-3", 420, 408,
        "News report, second Hubble walk (editor's note on third)", "STS-109 Status Report 12",
    ),
    SortieLength(
        "STS-125 EVA-5", 345, 422,
        "Fifth and final scheduled spacewalk under way early", "NASA open EVA table",
    ),
    SortieLength(
        "STS-101 EVA", 390, 404,
        "STS-101 MCC Status Report 06", "NASA open EVA table",
    ),
    SortieLength(
        "STS-113 EVA-2", 390, 370,
        "STS-113 flight day 6 plan with NASA TV times", "NASA open EVA table",
    ),
    SortieLength(
        "STS-114 EVA-2", 390, 434,
        "Spacewalkers complete gyro replacement", "STS-114 MCC Status Report 13",
    ),
    SortieLength(
        "STS-121 EVA-2", 415, 407,
        "STS-121 MCC Status Report 12", "NASA open EVA table",
    ),
    SortieLength(
        "STS-116 EVA-1", 370, 396,
        "NASA shuttle status report 12 December 2006, morning", "STS-116 MCC Status Report 07",
    ),
    SortieLength(
        "STS-117 EVA-3", 390, 478,
        "Thermal blanket repair, vent installation on tap", "STS-117 Status Report 15",
    ),
    SortieLength(
        "STS-118 EVA-1", 390, 377,
        "STS-118 MCC Status Report 06", "STS-118 Status Report 07",
    ),
    SortieLength(
        "STS-118 EVA-4", 270, 302,
        "STS-118 MCC Status Report 20", "STS-118 Status Report 21",
    ),
    SortieLength(
        "STS-120 EVA-1", 390, 374,
        "STS-120 Report 07", "NASA open EVA table",
    ),
    SortieLength(
        "STS-122 EVA-3", 385, 445,
        "STS-122 MCC Status Report 16", "NASA open EVA table",
    ),
    SortieLength(
        "STS-123 EVA-2", 425, 428,
        "STS-123 MCC Status Report 10", "STS-123 MCC Status Report 11",
    ),
    SortieLength(
        "STS-123 EVA-5", 390, 362,
        "STS-123 MCC Status Report 23", "NASA open EVA table",
    ),
    SortieLength(
        "STS-124 EVA-1", 390, 408,
        "STS-124 Report 06", "STS-124 Report 07",
    ),
    SortieLength(
        "STS-126 EVA-1", 390, 412,
        "Endeavour pair prep for ISS spacewalk", "EVA-1 ends",
    ),
    SortieLength(
        "STS-126 EVA-2", 390, 405,
        "Second spacewalk to share tools", "Second spacewalk complete",
    ),
    SortieLength(
        "STS-119 EVA-1", 390, 367,
        "Spacewalkers to install station's final truss", "NASA open EVA table",
    ),
    SortieLength(
        "STS-119 EVA-3", 390, 387,
        "Today in space: last STS-119 spacewalk", "NASA open EVA table",
    ),
    SortieLength(
        "STS-129 EVA-1", 390, 397,
        "First spacewalk underway (live log)", "First spacewalk underway (live log)",
    ),
    SortieLength(
        "STS-129 EVA-3", 330, 342,
        "Spacewalkers work ahead of timeline", "Astronauts perform final STS-129 EVA",
    ),
    SortieLength(
        "STS-130 EVA-2", 390, 354,
        "STS-130 MCC Status Report 12", "table of an encyclopaedia (German)",
    ),
    SortieLength(
        "STS-131 EVA-1", 390, 387,
        "STS-131 MCC Status Report 08", "STS-131 MCC Status Report 09",
    ),
    SortieLength(
        "STS-131 EVA-3", 390, 384,
        "STS-131 MCC Status Report 16", "STS-131 MCC Status Report 17",
    ),
    SortieLength(
        "STS-132 EVA-1", 390, 445,
        "First spacewalk of the mission begins", "NASA open EVA table",
    ),
    SortieLength(
        "STS-132 EVA-3", 390, 406,
        "Third spacewalk at the station", "STS-132 flight log day 8",
    ),
    SortieLength(
        "STS-133 EVA-2", 390, 374,
        "STS-133 MCC Status Report 12", "STS-133 Report 13",
    ),
    SortieLength(
        "STS-134 EVA-4", 390, 444,
        "Astronauts set for final spacewalk", "Final STS-134 spacewalk complete",
    ),
    SortieLength(
        "Expedition 12 US EVA", 330, 322,
        "Station crew prepares for US-directed spacewalk", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 32 US EVA-2", 390, 388,
        "Space walk underway, 5 September 2012", "Expedition 32 spacewalk report",
    ),
    SortieLength(
        "US EVA-22", 390, 367,
        "Live spacewalk broadcast notice, 9 July 2013", "NASA open EVA table",
    ),
    SortieLength(
        "US EVA-27", 390, 373,
        "Spacewalk preview 7 October 2014", "Two rookies complete space walk",
    ),
    SortieLength(
        "Expedition 48 US EVA-2", 390, 408,
        "Spacewalk to pack up radiator (early report)", "table of an encyclopaedia (German)",
    ),
    SortieLength(
        "Expedition 3 Russian EVA-1", 255, 298,
        "Cosmonauts prepare for space walk", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 9 Russian EVA", 360, 270,
        "Next space station spacewalk live", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 14 Russian EVA", 360, 378,
        "Everything on track for spacewalk", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 15 Russian EVA-1", 355, 325,
        "Station crew set for spacewalk today", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 26 Russian EVA 2011-01", 360, 323,
        "Cosmonauts to perform station maintenance", "NASA open EVA table",
    ),
    SortieLength(
        "Expedition 67 Russian EVA 2022-09", 390, 467,
        "Spacewalk coverage 2 September 2022", "Robotics spacewalk complete",
    ),
    SortieLength(
        "Expedition 70 Russian EVA 2023-10", 390, 461,
        "Spacewalk announced for 25 October 2023", "Cosmonauts finish over 7.5-hour spacewalk",
    ),
)
