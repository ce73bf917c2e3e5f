"""The log of the server on standard error: plain lines, or one JSON object per line.

The JSON has `time` (UTC), `level`, `logger`, `message`, and for a failure `trace`. The fields that a call gives as
`extra={"fields": ...}` are added to them.
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


class _JsonLines(logging.Formatter):
    """Each record as one JSON object on one line."""

    def format(self, record: logging.LogRecord) -> str:
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


class _PlainLines(logging.Formatter):
    """Each record as its level and its message; a failure with its trace below."""

    def __init__(self) -> None:
        super().__init__(PLAIN)

    def format(self, record: logging.LogRecord) -> str:
        level, record.levelname = record.levelname, record.levelname.lower()
        try:
            return super().format(record)
        finally:
            record.levelname = level


def set_up_logs(as_json: bool) -> None:
    """Write the log of the program on standard error.

    Parameters
    ----------
    as_json
        True: JSON lines, from level info on. False: plain lines, warnings and errors only.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_JsonLines() if as_json else _PlainLines())
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)
    logging.getLogger(OURS).setLevel(logging.INFO if as_json else logging.WARNING)
