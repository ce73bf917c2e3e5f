"""The command `tetherline send`: sends events to a server, and prints the outcome of each."""

from __future__ import annotations

import json
import re
import ssl
import sys
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any, NoReturn
from urllib.parse import urlsplit

import typer

from dashboard.cli.no_answer import no_answer
from dashboard.cli.options import single_command
from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.wording import kind_of_value
from dashboard.words import how_many

MOST_AT_ONCE = 200
WAIT_S = 10.0
UNAVAILABLE = 503
FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 5.0
LONGEST_WISH_S = 30.0  # of a server that says when to ask again
CURE = 'It was not sent. An event looks like {"kind": "note", "text": "Radio check"}, for instance.'
TAKEN = ("recorded", "already recorded")

PET_TEXT = re.compile(r"[-+]?\d{1,3}:[0-5]\d(:[0-5]\d)?")

Line = tuple[str, Any]


app = single_command()


@app.command()
def send(
    file: Annotated[
        str | None,
        typer.Argument(metavar="FILE", help="Events as JSON Lines; - reads standard input line by line."),
    ] = None,
    event: Annotated[str | None, typer.Option("--event", help="One event as a JSON object.")] = None,
    pet: Annotated[
        str | None, typer.Option("--pet", help="When it happened, as a PET such as 0:48; with --event.")
    ] = None,
    to: Annotated[str, typer.Option("--to", help="Address of the server.")] = "http://127.0.0.1:8050",
    tries: Annotated[
        int, typer.Option(min=1, max=20, help="Number of tries when the server does not answer, or wants to be asked again.")
    ] = 5,
    key: Annotated[
        str | None,
        typer.Option(envvar="TETHERLINE_KEY", show_envvar=True, help="Your key, if the server has keys."),
    ] = None,
) -> None:
    """Send events to a server and print the outcome of each. The exit code is 2 when some were refused."""
    if (file is None) == (event is None):
        found = "both" if event is not None else "neither"
        cure = 'For instance: tetherline send --event \'{"kind": "note", "text": "Radio check"}\'.'
        raise InputError([Problem("send", "one of FILE and --event", found, cure)])
    if pet is not None:
        if event is None:
            cure = 'In a file each event gives its own time, for instance "at": "0:48".'
            raise InputError([Problem("option --pet", "--event beside it", "a file", cure)])
        event = _with_pet(event, pet)
    if _send_events(to, file, event, tries, key):
        raise typer.Exit(2)


def _with_pet(event: str, pet: str) -> str:
    """Put a PET into an event as its time. A text that is not an event is returned as it is; sending it reports the error."""
    if not PET_TEXT.fullmatch(pet):
        cure = "Write hours and minutes since PET zero, such as 0:48 or 3:05."
        raise InputError([Problem("option --pet", "a PET (H:MM)", f"'{pet}'", cure)])
    item = _event(event.encode())
    if not isinstance(item, dict):
        return event
    if item.get("at") is not None:
        cure = "Give only one of the two."
        raise InputError([Problem("option --pet", "an event without a time of its own", f"'at' {item['at']!r}", cure)])
    return json.dumps({**item, "at": pet})


class _NotSent(Exception):
    """The server refused a whole request. The text gives the reason."""


def _send_events(to: str, file: str | None, event: str | None, tries: int, key: str | None = None) -> int:
    """Send one event, a file of JSON Lines, or standard input line by line. Exactly one of `file` and `event` is given.

    Parameters
    ----------
    to
        Address of the server.
    file
        Name of the file; ``-`` is standard input.
    event
        One event as JSON.
    tries
        Number of tries when the server does not answer.
    key
        Key of the sender; None: no key.

    Returns
    -------
    int
        Number of refused events.

    Raises
    ------
    InputError
        When the address or the file cannot be used, or when every try failed.
    """
    server = _Server(_checked(to), tries, key)
    refused = sent = 0
    for batch in _batches(file, event):
        sent += len(batch)
        refused += _send_batch(server, batch)
    if not sent:
        cure = "Nothing was sent. Give one JSON object per line."
        where = "" if file == "-" else str(file)
        subject = "standard input" if file == "-" else "file of events"
        raise InputError([Problem(subject, "at least one event", "none", cure, where)])
    return refused


class _Server:
    """Sends events to the server, with a limited number of tries when it does not answer."""

    def __init__(self, address: str, tries: int, key: str | None) -> None:
        self._headers = {"Content-Type": "application/json"}
        if key is not None:
            self._headers["Authorization"] = f"Bearer {_checked_key(key)}"
        self._address = address
        self._tries = tries
        # The user gives the address of the server, so proxies set in the environment are not used.
        self._open = urllib.request.build_opener(urllib.request.ProxyHandler({})).open

    def post(self, items: list[Any]) -> list[dict[str, Any]]:
        """Send events, and return their outcomes."""
        data = json.dumps(items).encode()
        pause_s, why, wished_s = FIRST_PAUSE_S, "", None
        for attempt in range(self._tries):
            if attempt:
                time.sleep(pause_s if wished_s is None else wished_s)
                pause_s, wished_s = min(LONGEST_PAUSE_S, pause_s * 2), None
            request = urllib.request.Request(f"{self._address}/api/events", data, self._headers)
            try:
                with self._open(request, timeout=WAIT_S) as answer:
                    return _outcomes(answer.read())
            except urllib.error.HTTPError as wrong:
                wished_s = _wished_s(wrong)
                if wished_s is None or attempt + 1 == self._tries:
                    return self._refused(wrong.code, wrong.read())
            except (OSError, urllib.error.URLError) as wrong:
                reason = getattr(wrong, "reason", wrong)
                if isinstance(reason, ssl.SSLCertVerificationError):
                    raise self._not_trusted(reason.verify_message) from None
                why = no_answer(wrong)
        self._lost(why)

    def _not_trusted(self, why: str) -> InputError:
        cure = "Use a name that its certificate holds, and set SSL_CERT_FILE to the certificate of its authority (PEM)."
        return InputError([Problem(f"server {self._address}", "a certificate that this computer trusts", why, cure)])

    def _refused(self, status: int, body: bytes) -> list[dict[str, Any]]:
        """The outcomes in an answer that refuses single events. An answer that refuses the whole request raises an error."""
        try:
            answer = json.loads(body)
        except ValueError:
            answer = None
        if isinstance(answer, dict) and "outcomes" in answer:
            return list(answer["outcomes"])
        if isinstance(answer, dict) and answer.get("problems"):
            raise _NotSent(
                "; ".join(f"expected {p['expected']}; found {p['found']}" for p in answer["problems"])
            )
        cure = "Is this the address of a Tetherline server? Give it with --to."
        raise InputError([Problem(f"server {self._address}", "a list of outcomes", f"answer {status}", cure)])

    def _lost(self, why: str) -> NoReturn:
        cure = (
            "Start one with `tetherline serve PLAN`, or give the address of another with --to. Events that have ids can safely "
            "be sent again."
        )
        found = f"none after {how_many(self._tries, 'try', 'tries')} ({why})"
        raise InputError([Problem(f"server {self._address}", "a server that answers", found, cure)])


def _wished_s(answer: urllib.error.HTTPError) -> float | None:
    """Seconds after which a server that is not available wants to be asked again, within bounds; None: it does not say.

    Every event has an id, so that sending it again is safe.
    """
    said = answer.headers.get("Retry-After", "")
    return min(float(said), LONGEST_WISH_S) if answer.code == UNAVAILABLE and said.isdecimal() else None


def _outcomes(body: bytes) -> list[dict[str, Any]]:
    try:
        return list(json.loads(body)["outcomes"])
    except (ValueError, KeyError, TypeError):
        cure = "Is this the address of a Tetherline server? Give it with --to."
        raise InputError([Problem("server", "a list of outcomes", "something else", cure)]) from None


def _send_batch(server: _Server, batch: list[Line]) -> int:
    good = [(place, item) for place, item in batch if not isinstance(item, ValueError)]
    refused = 0
    for place, item in batch:
        if isinstance(item, ValueError):
            refused += 1
            print(f"refused: {place}: {item}", flush=True)
    if not good:
        return refused
    try:
        outcomes = server.post([item for _, item in good])
    except _NotSent as wrong:
        if len(good) > 1:
            return refused + sum(_send_batch(server, [line]) for line in good)
        print(f"refused: {good[0][0]}: {wrong}", flush=True)
        return refused + 1
    for (place, _), outcome in zip(good, outcomes, strict=True):
        print(_in_words(place, outcome), flush=True)
        refused += outcome["status"] not in TAKEN
    return refused


def _in_words(place: str, outcome: dict[str, Any]) -> str:
    words = [f"{outcome['status']}: {place}"]
    if outcome.get("seq") is not None:
        words.append(f"seq {outcome['seq']}")
    words.append(f"id {outcome.get('id')}")
    said = [outcome[key] for key in ("why", "hint") if outcome.get(key)]
    return "; ".join([", ".join(words), *said, *_effects(outcome.get("did") or {})])


def _effects(did: dict[str, Any]) -> list[str]:
    """What an entry did: discrepancies, with the event that takes the entry back, and figures that moved."""
    misfits = did.get("discrepancies", [])
    said = [f"does not fit: {misfit}" for misfit in misfits] + [str(change) for change in did.get("moved", [])]
    if misfits and did.get("withdraw"):
        said.append(f"to take it back: tetherline send --event '{json.dumps(did['withdraw'])}'")
    return said


def _batches(file: str | None, event: str | None) -> Iterator[list[Line]]:
    if event is not None:
        yield [("event", _event(event.encode()))]
    elif file == "-":
        yield from ([line] for line in _lines(sys.stdin.buffer))
    else:
        yield from _file_batches(Path(file or ""))


def _file_batches(path: Path) -> Iterator[list[Line]]:
    try:
        with path.open("rb") as stream:
            batch: list[Line] = []
            for line in _lines(stream):
                batch.append(line)
                if len(batch) == MOST_AT_ONCE:
                    yield batch
                    batch = []
            if batch:
                yield batch
    except OSError as wrong:
        found, cure = wrong.strerror or str(wrong), "Check the name of the file."
        raise InputError([Problem("file of events", "a readable file", found, cure, str(path))]) from None


def _lines(stream: Iterable[bytes]) -> Iterator[Line]:
    for number, raw in enumerate(stream, start=1):
        if raw.strip():
            yield f"line {number}", _event(raw)


def _event(raw: bytes) -> Any:
    """Read one event, and give it an id so that sending it again is safe. A line that is not an event gives a ValueError."""
    try:
        item = json.loads(raw, parse_constant=_no_constant)
    except json.JSONDecodeError as wrong:
        said = f"{wrong.msg[:1].lower()}{wrong.msg[1:]}, column {wrong.colno}"
        return ValueError(f"expected one JSON object; found text that is not JSON ({said}). {CURE}")
    except UnicodeDecodeError as wrong:
        return ValueError(f"expected one JSON object in UTF-8; found byte 0x{raw[wrong.start]:02x}. {CURE}")
    except (ValueError, RecursionError) as wrong:
        return ValueError(f"expected one JSON object; found text that is not JSON ({wrong}). {CURE}")
    if not isinstance(item, dict):
        return ValueError(f"expected one JSON object; found {kind_of_value(item)}. {CURE}")
    return item if item.get("id") is not None else {**item, "id": str(uuid.uuid4())}


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number in JSON")


def _checked_key(key: str) -> str:
    if not (key and key.isascii() and key.isprintable() and " " not in key):
        cure = "Give the key exactly as it was printed, with --key or in TETHERLINE_KEY."
        found = "an empty key" if not key else "a key with spaces or other characters"
        raise InputError([Problem("option --key", "a key of printable ASCII characters", found, cure)])
    return key


def _checked(to: str) -> str:
    try:
        parts = urlsplit(to if "://" in to else f"http://{to}")
        usable = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        usable = False
    if not usable:
        cure = "For instance --to http://127.0.0.1:8050."
        raise InputError([Problem("option --to", "the address of a server", f"'{to}'", cure)])
    return f"{parts.scheme}://{parts.netloc}"
