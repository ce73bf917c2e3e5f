"""What the server writes on standard error: one plain line for each thing, or one JSON object a line.

The JSON has `time` (UTC), `level`, `logger`, `message`, and for a failure `trace`; what a call gives as `extra={"fields": ...}`
stands beside them.
"""

from __future__ import annotations

import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from typing import Any

from dashboard.core.base.times import instant_text

PLAIN = "%(levelname)s: %(message)s"
OURS = "tetherline"


class JsonLines(logging.Formatter):
    """Each record as one JSON object on one line."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as a line of JSON."""
        told: dict[str, Any] = {
            "time": instant_text(datetime.fromtimestamp(record.created, UTC)),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        fields = getattr(record, "fields", None)
        if isinstance(fields, dict):
            told = {**fields, **told}
        if record.exc_info:
            told["trace"] = "".join(traceback.format_exception(*record.exc_info))
        return json.dumps(told, default=str)


class PlainLines(logging.Formatter):
    """Each record as its level and its message; a failure with its trace below."""

    def __init__(self) -> None:
        super().__init__(PLAIN)

    def format(self, record: logging.LogRecord) -> str:
        """The record as a person reads it."""
        level, record.levelname = record.levelname, record.levelname.lower()
        try:
            return super().format(record)
        finally:
            record.levelname = level


def set_up_logs(as_json: bool) -> None:
    """Have everything that is logged written on standard error; as JSON also what is in order, plain only what is not."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines() if as_json else PlainLines())
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)
    logging.getLogger(OURS).setLevel(logging.INFO if as_json else logging.WARNING)
