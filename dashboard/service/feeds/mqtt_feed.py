"""Follows a topic of an MQTT broker. Each message holds events as JSON, one event per line.

Rules of this file
------------------
1. The broker delivers each message at least once (QoS 1), in a session that it keeps while this server is away. A message is
   acknowledged once its entries are kept; if the store is lost, keeping them in memory counts.
2. Entries of a message that is delivered again are recognised: by their ids; without an `id` by their content if they have
   an `at`; else by the message number of the broker. An entry with neither `id` nor `at` can be recorded twice only if this
   server ended after keeping it and before acknowledging it.
3. A retained message repeats the last value that was published, so it is not news. Without `id` and `at` its content
   identifies it.
4. The name of the session depends on this computer, the port of this server and the sortie, so that no two servers share it.
"""

from __future__ import annotations

import os
import uuid
from collections import OrderedDict
from importlib import import_module
from typing import Any, NamedTuple

from dashboard.core.base.problems import InputError, Problem
from dashboard.service.feeds.entries import Entry, Reader
from dashboard.service.feeds.feed import Feed
from dashboard.service.feeds.lines import Lines
from dashboard.service.feeds.status import Status

PASSWORD_VARIABLE = "TETHERLINE_MQTT_PASSWORD"  # noqa: S105  # its name, not a password
WAIT_S = 0.2
ANSWER_S = 10.0
KEEPALIVE_S = 30
MOST_MESSAGES = 200
MOST_MARKS = 1000
CURE = "Check that the program that publishes to this topic still runs."


class Broker(NamedTuple):
    """A topic of a broker, and the account that reads it."""

    host: str
    port: int
    topic: str
    user: str | None = None
    password: str | None = None
    encrypted: bool = False

    def in_words(self) -> str:
        """The address without user and password."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.encrypted else 'mqtt'}://{host}:{self.port}/{self.topic}"


class MqttFeed(Feed):
    """One topic.

    Parameters
    ----------
    broker : Broker
        The broker and the topic.
    session : str
        Name of the session at the broker (the MQTT client id).

    Raises
    ------
    InputError
        When the client library is not installed.
    """

    def __init__(self, broker: Broker, session: str) -> None:
        name = broker.in_words()
        super().__init__(Status(name, CURE))
        self._mqtt = _library()
        self._broker, self._session = broker, session
        self._came: list[Any] = []
        self._marks: OrderedDict[tuple[int, bytes], str] = OrderedDict()
        self._refused: str | None = None
        self._subscribed = False

    def follow(self) -> None:
        client = self._client()
        self._refused, self._subscribed, self._came = None, False, []
        try:
            client.connect(self._broker.host, self._broker.port, KEEPALIVE_S)
            self._receive(client)
        finally:
            client.disconnect()

    def _receive(self, client: Any) -> None:
        waited_s = 0.0
        while not self.is_stopped():
            code = client.loop(0.0 if self._came else WAIT_S)
            if self._refused is not None:
                raise OSError(self._refused)
            if code != self._mqtt.MQTT_ERR_SUCCESS:
                raise OSError(f"the connection is lost ({self._mqtt.error_string(code).rstrip('.').lower()})")
            if not self._subscribed and (waited_s := waited_s + WAIT_S) > ANSWER_S:
                raise OSError("the broker does not answer")
            if self._came and not self._keep(client):
                return

    def _keep(self, client: Any) -> bool:
        """Hand over the entries of the messages that came, and acknowledge them; False: the feed was stopped before that."""
        for _ in range(MOST_MESSAGES):  # messages that have already arrived are handed over together
            before = len(self._came)
            client.loop(0.0)
            if len(self._came) == before:
                break
        came, self._came = self._came, []
        if any(not message.retain for message in came):
            self.status.heard()
        if not self.hand_over([entry for message in came for entry in self._entries(message)]):
            return False
        for message in came:
            client.ack(message.mid, message.qos)
        return True

    def _entries(self, message: Any) -> list[Entry]:
        lines, topic = Lines(), self._broker._replace(topic=message.topic).in_words()
        ended = lines.add(message.payload)
        last = lines.take_part()
        reader = Reader(f"a message of {topic}", topic, csv=False)
        return reader.entries([*ended, *([last] if last else [])], self._mark(message))

    def _mark(self, message: Any) -> str:
        """Distinguishes a message from others with the same content; a message that is delivered again keeps its mark."""
        if message.retain:
            return "retained"
        key = (message.mid, message.payload)
        mark = self._marks.get(key) if message.dup else None
        if mark is None:
            mark = self._marks[key] = uuid.uuid4().hex
            if len(self._marks) > MOST_MARKS:
                self._marks.popitem(last=False)
        return mark

    def _client(self) -> Any:
        mqtt = self._mqtt
        client = mqtt.Client(
            mqtt.CallbackAPIVersion.VERSION2, client_id=self._session, clean_session=False, protocol=mqtt.MQTTv311,
            manual_ack=True,
        )  # fmt: skip
        if self._broker.user is not None:
            client.username_pw_set(self._broker.user, self._broker.password or os.environ.get(PASSWORD_VARIABLE))
        if self._broker.encrypted:
            client.tls_set()
        client.on_connect, client.on_subscribe, client.on_message = self._on_connect, self._on_subscribe, self._on_message
        return client

    # -- callbacks of the client, called within its `loop`

    def _on_connect(self, client: Any, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        if reason.is_failure:
            self._refused = f"the broker refuses the connection ({str(reason).lower()}). Check user and password"
            return
        client.subscribe(self._broker.topic, qos=1)

    def _on_subscribe(self, _client: Any, _data: Any, _mid: int, reasons: Any, _properties: Any) -> None:
        if any(reason.is_failure for reason in reasons):
            self._refused = f"the broker refuses the topic '{self._broker.topic}'. Check who may read it"
            return
        self._subscribed = True
        self.connected()

    def _on_message(self, _client: Any, _data: Any, message: Any) -> None:
        self._came.append(message)


def _library() -> Any:
    """The client library, which comes with the extra `mqtt`."""
    try:
        return import_module("paho.mqtt.client")
    except ImportError:
        cure = "Install it with the extra: pip install 'tetherline[mqtt]'."
        raise InputError([Problem("option --follow mqtt://", "the package paho-mqtt", "not installed", cure)]) from None
