"""The caution that stands beside all advice, wherever it is shown, printed or exported."""

from __future__ import annotations

CAUTION = (
    "Advisory only. Flight rules, suit telemetry and the responsible flight controllers and physicians decide. "
    "Not certified for flight use."
)
