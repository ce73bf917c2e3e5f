"""What the server writes on standard error."""

from __future__ import annotations

import json
import subprocess
import sys

SCRIPT = """
import logging
from dashboard.service.observe.logs import set_up_logs
set_up_logs({as_json})
log = logging.getLogger("tetherline")
log.info("Recorded %d entries", 2, extra={{"fields": {{"entries": 2, "message": "not this"}}}})
log.warning("Feed is lost")
logging.getLogger("other").info("of no interest")
try:
    1 / 0
except ZeroDivisionError:
    log.exception("It failed: %s", "\\udc80")
"""


def written(as_json: bool) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(as_json=as_json)], capture_output=True, encoding="utf-8", errors="replace"
    )
    assert (done.returncode, done.stdout) == (0, "")
    return done.stderr.splitlines()


def test_as_json_each_record_is_one_object_on_one_line():
    """With its time, level, logger, message, fields, and the trace of a failure."""
    first, second, third = map(json.loads, written(as_json=True))
    assert first.keys() == {"time", "level", "logger", "message", "entries"} and first["time"].endswith("Z")
    assert (first["level"], first["logger"], first["message"]) == ("info", "tetherline", "Recorded 2 entries")
    assert second["level"] == "warning"
    assert third["level"] == "error" and "ZeroDivisionError" in third["trace"]


def test_plain_only_what_is_not_in_order_is_written():
    """The level in small letters, as everything that the commands say; the trace below."""
    lines = written(as_json=False)
    assert lines[0] == "warning: Feed is lost"
    assert lines[1].startswith("error: It failed") and lines[-1].startswith("ZeroDivisionError")
