"""Makes feeds from the values of `--follow`: a path, `-` for standard input, or the address of an MQTT topic."""

from __future__ import annotations

import hashlib
import socket
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import unquote, urlsplit

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.feeds.feed import Feed
from dashboard.service.feeds.file_feed import FileFeed
from dashboard.service.feeds.mqtt_feed import Broker, MqttFeed
from dashboard.service.feeds.stdin_feed import StdinFeed

STDIN = "-"
MQTT_PORTS = {"mqtt": 1883, "mqtts": 8883}
LONGEST_TOPIC_BYTES = 65_535
OPTION = "option --follow"


def feeds_of(sources: Sequence[str], session: str) -> list[Feed]:
    """Make a feed for each source.

    Parameters
    ----------
    sources : sequence of str
        Values of `--follow`, as given.
    session : str
        Distinguishes this server from others on this computer; the name of its session at a broker depends on it.

    Returns
    -------
    list of Feed
        In the order given.

    Raises
    ------
    InputError
        When a source cannot be followed, or is given twice.
    """
    problems: list[Problem] = []
    feeds: dict[str, Feed] = {}
    for source in sources:
        key = source if source == STDIN or "://" in source else str(Path(source).resolve())
        if key in feeds:
            problems.append(Problem(OPTION, "each source once", f"'{_shown(source)}' twice", "Remove one of them."))
            continue
        try:
            feeds[key] = _feed(source, session, sources)
        except InputError as wrong:
            problems += wrong.problems
    if problems:
        raise InputError(problems)
    return list(feeds.values())


def _feed(source: str, session: str, sources: Sequence[str]) -> Feed:
    if source == STDIN:
        return StdinFeed()
    if "://" in source:
        broker = broker_of(source)
        named = f"{socket.gethostname()} {session} {broker.in_words()}"
        return MqttFeed(broker, f"tetherline-{hashlib.sha256(named.encode()).hexdigest()[:12]}")
    return _file_feed(Path(source), sources)


def _file_feed(path: Path, sources: Sequence[str]) -> FileFeed:
    """The feed of a file, named after the file; after its whole path where another source has the same file name."""
    expected = "a file that grows (JSON Lines or CSV), - for standard input, or mqtt://host:port/topic"
    found = cure = None
    if not str(path).strip() or not path.name:
        found, cure = f"'{path}'", "Name the file."
    elif path.exists() and not path.is_file():
        found = f"{path}, which is a folder" if path.is_dir() else f"{path}, which is not a regular file"
        cure = "Name a file; give - for standard input."
    elif not path.resolve().parent.is_dir():
        found, cure = f"{path}, whose folder does not exist", "Check the path. The file itself need not exist yet."
    if found is not None:
        raise InputError([Problem(OPTION, expected, found, cure or "")])
    alike = sum(Path(other).name == path.name for other in sources if other != STDIN and "://" not in other)
    return FileFeed(path, path.name if alike == 1 else str(path))


def broker_of(source: str) -> Broker:
    """The broker and topic of an address: ``mqtt://[user[:password]@]host[:port]/topic``, or ``mqtts://`` with TLS.

    The topic may hold the wildcards ``+`` and ``#``; other characters that an address cannot hold are written as ``%..``.

    Parameters
    ----------
    source
        The address, with ``://`` in it.

    Returns
    -------
    Broker
        With port 1883 for ``mqtt`` and 8883 for ``mqtts`` where the address gives none.

    Raises
    ------
    InputError
        When the scheme is another one, the address has no host or no topic, or the topic is too long or misuses a wildcard.
    """
    scheme, _, rest = source.partition("://")
    place, _, topic = rest.partition("/")
    try:
        parts = urlsplit(f"//{place}")
        host, port, user, password = parts.hostname, parts.port, parts.username, parts.password
    except ValueError:
        host = port = user = password = None
    topic = unquote(topic)
    expected = "mqtt://host:port/topic, or mqtts:// for TLS"
    found = None
    if scheme not in MQTT_PORTS:
        found = f"'{_shown(source)}'"
    elif not host or port == 0:
        found = f"no host in '{_shown(source)}'"
    elif not topic or "\0" in topic or len(topic.encode()) > LONGEST_TOPIC_BYTES or not _has_good_wildcards(topic):
        found = f"the topic '{topic[:80]}'" if topic else f"no topic in '{_shown(source)}'"
    if found is not None or host is None:
        cure = "For instance --follow mqtt://broker.example:1883/suits/readings. A wildcard must be alone between slashes."
        raise InputError([Problem(OPTION, expected, found or "", cure)])
    named = unquote(user) if user is not None else None
    secret = unquote(password) if password is not None else None
    return Broker(host, port or MQTT_PORTS[scheme], topic, named, secret, scheme == "mqtts")


def _has_good_wildcards(topic: str) -> bool:
    """Whether each `+` is a whole level, and a `#` is the whole last level."""
    levels = topic.split("/")
    return all("+" not in level or level == "+" for level in levels) and all(
        "#" not in level or (level == "#" and number == len(levels)) for number, level in enumerate(levels, start=1)
    )


def _shown(source: str) -> str:
    """A source without its user and password."""
    scheme, separator, rest = source.partition("://")
    if not separator:
        return source
    place, stroke, topic = rest.partition("/")
    return f"{scheme}://{place.rpartition('@')[2]}{stroke}{topic}"
