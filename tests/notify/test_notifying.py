"""The thread that tells people: it starts, waits out trouble with the store, and stops at once."""

import time

import pytest
from msgspec import structs
from notify_samples import advisory, settings

from hivemon.config import StoreSettings
from hivemon.config_notify import ChannelSettings
from hivemon.daemon.notifying import Notifying
from hivemon.errors import ConfigError
from hivemon.model import Urgency
from hivemon.store import Store


def until(condition) -> None:
    end = time.monotonic() + 10
    while not condition():
        assert time.monotonic() < end, "did not come about in time"
        time.sleep(0.01)


def diary(folder) -> ChannelSettings:
    return ChannelSettings(name="diary", kind="file", path=str(folder / "diary.txt"))


def test_it_tells_while_it_runs_and_stops_at_once(tmp_path) -> None:
    now = time.time_ns() // 1_000_000
    with Store.open(tmp_path / "hivemon.db") as store:
        store.put_advisories([advisory(Urgency.NOW, now, title="A swarm left Lime")])
    telling = Notifying(settings(tmp_path, diary(tmp_path)))
    telling.start()
    until((tmp_path / "diary.txt").exists)
    until(lambda: "Orchard, now: A swarm left Lime" in (tmp_path / "diary.txt").read_text())
    began = time.monotonic()
    telling.stop(5)
    assert time.monotonic() - began < 2
    assert not telling._thread.is_alive()


def test_a_store_that_cannot_be_opened_is_said_once_and_tried_again(tmp_path, caplog, monkeypatch) -> None:
    monkeypatch.setattr("hivemon.daemon.beside.TROUBLE_SECONDS", 0.01)
    place = tmp_path / "later"
    usual = settings(tmp_path, diary(tmp_path))
    telling = Notifying(structs.replace(usual, store=StoreSettings(path=str(place / "hivemon.db"))))
    telling.start()
    until(lambda: "messages to people wait" in caplog.text)
    time.sleep(0.1)
    assert caplog.text.count("messages to people wait") == 1
    place.mkdir()
    until((place / "hivemon.db").exists)
    telling.stop(5)


def test_a_channel_that_cannot_work_is_refused_before_anything_starts(tmp_path, monkeypatch) -> None:
    monkeypatch.delenv("HIVEMON_CHANNEL_MAIL", raising=False)
    with pytest.raises(ConfigError, match="mail"):
        Notifying(settings(tmp_path, ChannelSettings(name="mail", kind="apprise")))
