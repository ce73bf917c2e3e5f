"""The conditions of simulated runs: pace, spread, and how often each trouble happens."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

TROUBLES = ("contingency", "hold", "late", "amended", "withdrawn", "given-up", "forgotten")


@dataclass(frozen=True)
class Conditions:
    """The conditions of simulated runs.

    Parameters
    ----------
    pace : float
        Median factor on the briefed durations.
    spread : float
        Standard deviation of the log pace of a lane between runs.
    correlation : float
        Correlation between the log paces of the lanes, 0 to 1.
    troubles : mapping of str to float
        Mean number of each trouble per run.

    Raises
    ------
    ValueError
        When a value is out of its range.
    """

    pace: float = 1.0
    spread: float = 0.10
    correlation: float = 0.5
    troubles: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not 0.2 <= self.pace <= 5:
            raise ValueError(f"a pace from 0.2 to 5 times the briefed durations, not {self.pace:g}")
        if not 0 <= self.spread <= 1:
            raise ValueError(f"a spread (log-sd) from 0 to 1, not {self.spread:g}")
        if not 0 <= self.correlation <= 1:
            raise ValueError(f"a correlation from 0 to 1, not {self.correlation:g}")
        for name, mean in self.troubles.items():
            if name not in TROUBLES:
                raise ValueError(f"a trouble of {', '.join(TROUBLES)}, not {name}")
            if not 0 <= mean <= 20:
                raise ValueError(f"0 to 20 of '{name}' per run, not {mean:g}")
