"""Following a topic of a real broker."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest

from dashboard.core.base.problems import InputError
from dashboard.service.feeds import feed as feed_module
from dashboard.service.feeds import mqtt_feed
from dashboard.service.feeds.mqtt_feed import Broker as Address
from dashboard.service.feeds.mqtt_feed import MqttFeed
from tests.broker import Broker
from tests.service.feeds.intakes import Intake, note
from tests.waiting import until

READING = '{"kind": "reading", "suit": "A", "oxygen": 0.41, "at": "2031-04-12T10:00:00Z"}'

Follow = Callable[..., MqttFeed]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    running = Broker(tmp_path / "broker").start()
    yield running
    running.stop()


@pytest.fixture
def intake() -> Intake:
    return Intake()


@pytest.fixture
def follow(broker: Broker, intake: Intake, monkeypatch: pytest.MonkeyPatch) -> Iterator[Follow]:
    """Follows a topic into the intake; returns once the broker delivers, unless it is told not to wait."""
    monkeypatch.setattr(feed_module, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(feed_module, "LONGEST_PAUSE_S", 0.2)
    started: list[MqttFeed] = []

    def start(topic: str = "suits/readings", wait: bool = True, **who: Any) -> MqttFeed:
        feed = MqttFeed(Address("127.0.0.1", broker.port, topic, **who), "tetherline-test")
        started.append(feed)
        feed.start(intake.take)
        if wait:
            until(lambda: feed._subscribed, "the subscription")
        return feed

    yield start
    for feed in started:
        feed.close()


def publish(broker: Broker, *texts: str, topic: str = "suits/readings", retain: bool = False, **who: str) -> None:
    """Publish, and return once the broker has it."""
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
    if who:
        client.username_pw_set(who["user"], who["password"])
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    for text in texts:
        client.publish(topic, text, qos=1, retain=retain).wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def test_each_message_is_an_entry_or_several(broker: Broker, follow: Follow, intake: Intake):
    """One JSON object, or one a line; what is no event is kept with its topic."""
    feed = follow("suits/#")
    publish(broker, READING, f"{note('one')}\n{note('one')}", "no json")
    publish(broker, READING, note("one"), topic="suits/b")
    until(lambda: len(intake.events) == 5 and intake.unread, "what was published")
    assert intake.names == {feed.name}
    (kept,) = intake.unread.values()
    assert kept.item == "no json" and kept.why.endswith(f"(line 1 of a message of {feed.name[:-1]}readings)")
    assert feed.status.seen().standing == "fresh"


def test_what_is_published_while_the_server_is_away_is_delivered_then(broker: Broker, follow: Follow, intake: Intake):
    """The broker keeps the session."""
    follow().close()
    publish(broker, note("while away"))
    assert intake.texts == []
    follow()
    until(lambda: intake.texts == ["while away"], "the note")


def test_a_broker_that_goes_and_comes_back_is_followed_again(broker: Broker, follow: Follow, intake: Intake):
    """Meanwhile the feed is lost, by its name and in words."""
    feed = follow()
    publish(broker, note("before"))
    until(lambda: intake.texts == ["before"], "the first note")
    broker.stop()
    until(lambda: feed.status.seen().standing == "lost", "the loss")
    until(lambda: "Connection refused" in feed.status.seen().said, "the reason")
    assert feed.status.seen().said.startswith(f"Feed mqtt://127.0.0.1:{broker.port}/suits/readings is lost for")
    broker.start()
    until(lambda: feed.status.seen().standing == "fresh", "the feed in order")
    publish(broker, note("after"))
    until(lambda: intake.texts == ["before", "after"], "the second note")


def test_a_message_is_acknowledged_once_it_is_kept(broker: Broker, follow: Follow, intake: Intake):
    """What could not be kept when the server ended is delivered once more to the next one."""
    intake.is_full = True
    feed = follow()
    publish(broker, note("one"), note("one"))
    until(lambda: feed.status.seen().standing == "waits", "the feed waiting")
    feed.close()
    intake.is_full = False
    follow()
    until(lambda: intake.texts == ["one", "one"], "both notes")


def test_a_message_that_is_delivered_once_more_is_the_same_entry(
    broker: Broker, follow: Follow, intake: Intake, monkeypatch: pytest.MonkeyPatch
):
    """Also when it brings neither id nor time."""
    feed = follow()
    monkeypatch.setattr(mqtt.Client, "ack", lambda *_: mqtt.MQTT_ERR_SUCCESS)  # as if the connection went before that
    publish(broker, note("one"))
    until(lambda: intake.texts == ["one"], "the note")
    monkeypatch.undo()
    broker.stop()
    until(lambda: feed.status.seen().standing == "lost", "the loss")
    broker.start()
    until(lambda: feed.status.seen().entries == 2, "the note once more")
    assert intake.texts == ["one"]


def test_a_retained_message_is_one_entry_and_no_news(broker: Broker, follow: Follow, intake: Intake):
    """However often the feed begins; the age counts from what is published while it listens."""
    publish(broker, note("last word"), retain=True)
    for _ in range(2):
        feed = follow()
        until(lambda feed=feed: feed.status.seen().entries == 1, "the retained message")
        assert feed.status.seen().heard_at is None
        feed.close()
    assert intake.texts == ["last word"]


def test_a_broker_that_knows_its_people_refuses_others_in_words(tmp_path: Path, intake: Intake, monkeypatch):
    """The right password is taken, from the address or from the environment."""
    monkeypatch.setattr(feed_module, "LONGEST_PAUSE_S", 0.1)
    broker = Broker(tmp_path / "closed", {"board": "secret"}).start()
    feeds = []
    try:
        for password in ("wrong", "secret", None):
            monkeypatch.setenv(mqtt_feed.PASSWORD_VARIABLE, "secret")
            feed = MqttFeed(Address("127.0.0.1", broker.port, "t", "board", password), f"tetherline-{password}")
            feeds.append(feed)
            feed.start(intake.take)
            if password == "wrong":
                until(lambda feed=feed: "refuses the connection" in feed.status.seen().said, "the refusal")
                assert "Check user and password" in feed.status.seen().said
                assert "secret" not in feed.status.seen().said
            else:
                until(lambda feed=feed: feed._subscribed, "the subscription")
    finally:
        for feed in feeds:
            feed.close()
        broker.stop()


def test_without_the_client_library_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch):
    """Before any server starts."""

    def none(name: str) -> Any:
        raise ImportError(name)

    monkeypatch.setattr(mqtt_feed, "import_module", none)
    with pytest.raises(InputError, match=r"tetherline\[mqtt\]"):
        MqttFeed(Address("127.0.0.1", 1, "t"), "tetherline-test")
