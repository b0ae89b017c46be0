"""Channels by themselves: the file, JSON, topics, and what is told of a fault. Those with servers are in tests/real."""

import json
import logging

import pytest
from notify_samples import NOON, message, settings

from hivemon.config import BrokerSettings, EmbeddedSettings
from hivemon.config_notify import ChannelSettings
from hivemon.errors import ConfigError
from hivemon.intake.translate import Translator
from hivemon.notify.by_apprise import AppriseChannel, fault_in
from hivemon.notify.by_file import FileChannel
from hivemon.notify.channels import broker_of, make_channels
from hivemon.notify.wire import to_json, topic_of
from hivemon.store import Sort


def file_channel(folder, form="text") -> FileChannel:
    return FileChannel(ChannelSettings(name="log", kind="file", path=str(folder / "notes"), form=form))


def test_a_file_has_every_message_as_text_to_read(tmp_path) -> None:
    channel = file_channel(tmp_path)
    assert channel.send(message()) is None
    assert channel.send(message(title="Second")) is None
    text = (tmp_path / "notes").read_text(encoding="utf-8")
    assert text.startswith(
        "Orchard, now: é蜂\n================\n2026-06-06T10:00:00Z\n\nLook.\nNow.\n\n\nSecond\n======\n"
    )


def test_a_file_of_json_has_one_object_a_line(tmp_path) -> None:
    channel = file_channel(tmp_path, "json")
    channel.send(message(advisories=["a"], urgent=True))
    channel.send(message(yard="", sort=Sort.TROUBLE))
    first, second = (json.loads(line) for line in (tmp_path / "notes").read_text(encoding="utf-8").splitlines())
    assert first == {
        "time": "2026-06-06T10:00:00Z", "yard": "orchard", "sort": "advice", "urgent": True,
        "title": "Orchard, now: é蜂", "text": "Look.\nNow.", "advisories": ["a"],
    }  # fmt: skip
    assert second["yard"] is None


def test_a_line_cut_short_by_a_crash_does_not_spoil_the_next(tmp_path) -> None:
    (tmp_path / "notes").write_text('{"time": "2026-06-06T10:0')
    file_channel(tmp_path, "json").send(message())
    *_, last = (tmp_path / "notes").read_text(encoding="utf-8").splitlines()
    assert json.loads(last)["text"] == "Look.\nNow."


def test_a_file_that_cannot_be_written_is_a_fault_in_words(tmp_path) -> None:
    channel = file_channel(tmp_path / "no-such-folder")
    assert "No such file or directory" in channel.send(message())


@pytest.mark.parametrize(
    ("sort", "yard", "topic"),
    [
        (Sort.NOTE, "orchard", "hivemon/orchard/note"),
        (Sort.ADVICE, "orchard", "hivemon/orchard/advice"),
        (Sort.TROUBLE, "", "hivemon/trouble"),
        (Sort.TEST, "orchard", "hivemon/test"),
    ],
)
def test_each_sort_of_message_has_its_topic_and_none_is_taken_for_a_reading(tmp_path, sort, yard, topic) -> None:
    configured = settings(tmp_path)
    assert topic_of(message(sort=sort, yard=yard), "hivemon") == topic
    heard = Translator(configured).topics()
    assert heard == ["hives/+/+", "hives/+"]
    assert not topic.startswith("hives/")


def test_a_message_is_one_line_of_json() -> None:
    assert b"\n" not in to_json(message(text="a\nb"))


def test_the_broker_of_messages_is_the_one_of_the_readings(tmp_path) -> None:
    own = BrokerSettings(host="192.0.2.7", user="hivemon")
    assert broker_of(settings(tmp_path, broker=own)) == own
    inside = broker_of(settings(tmp_path, embedded=EmbeddedSettings(bind="0.0.0.0", port=1999)))
    assert (inside.host, inside.actual_port, inside.uses_tls) == ("127.0.0.1", 1999, False)


def test_two_channels_at_one_broker_do_not_throw_each_other_out(tmp_path) -> None:
    """They may send at the same moment, and a broker lets go of a client whose id comes again (MQTT 3.1.1, 3.1.4)."""
    shown = [ChannelSettings(name=name, kind="mqtt", topic=name) for name in ("kitchen", "shed")]
    made = make_channels(settings(tmp_path, *shown)).values()
    assert len({channel._client()._client_id for channel in made}) == 2


# -- Apprise, where no server is needed -------------------------------------------------------------------------------


def apprise_channel(address: str, monkeypatch) -> AppriseChannel:
    monkeypatch.setenv("HIVEMON_CHANNEL_MAIL", address)
    return AppriseChannel(ChannelSettings(name="mail", kind="apprise"))


@pytest.mark.parametrize(
    "address",
    ["open-sesame", "nosuch://open-sesame@example.org", "mailto://me:open-sesame@", "https://",
     "json://a.example/open-sesame json://b.example"],
)  # fmt: skip
def test_an_address_that_cannot_be_used_is_refused_without_being_repeated(address, monkeypatch, caplog, capfd) -> None:
    with caplog.at_level(logging.DEBUG), pytest.raises(ConfigError, match='channel "mail"') as caught:
        apprise_channel(address, monkeypatch)
    shown = f"{caught.value} {caught.value.hint} {caplog.text} {capfd.readouterr()}"
    assert "open-sesame" not in shown


def test_a_channel_without_an_address_says_where_to_write_it(tmp_path, monkeypatch) -> None:
    monkeypatch.delenv("HIVEMON_CHANNEL_MAIL", raising=False)
    with pytest.raises(ConfigError, match="has no address") as caught:
        make_channels(settings(tmp_path, ChannelSettings(name="mail", kind="apprise")))
    assert "HIVEMON_CHANNEL_MAIL" in caught.value.hint
    assert "url_file" in caught.value.hint


@pytest.mark.parametrize(
    ("heard", "told"),
    [
        (["Failed to send JSON POST notification: Unauthorized - Invalid Token., error=401."], "(HTTP 401)"),
        (["Failed to send JSON POST notification: error=404."], "nothing at that address (HTTP 404)"),
        (["Failed to send JSON POST notification: error=503."], "in trouble itself (HTTP 503)"),
        (["Failed to send JSON POST notification: error=418."], "refuses the message (HTTP 418)"),
        (["Failed to send: error=429."], "wants fewer messages (HTTP 429)"),
        (["A Connection error occurred", "Socket Exception: [Errno 111] Connection refused"], "nothing listens there"),
        (["Socket Exception: [Errno -2] Name or service not known"], "its name is unknown"),
        (["Socket Exception: (535, b'5.7.8 Error: authentication failed')"], "does not accept the user and password"),
        (["Socket Exception: [SSL: CERTIFICATE_VERIFY_FAILED] certificate verify failed"], "certificate"),
        (["Socket Exception: (Caused by SSLError(1, '[SSL: WRONG_VERSION_NUMBER]'))"], "no encrypted link"),
        (["Socket Exception: timed out"], "does not answer"),
        (["something else about open-sesame"], "did not take the message"),
        ([], "did not take the message"),
    ],
)
def test_what_is_told_of_a_fault_is_in_our_own_words(heard, told) -> None:
    assert told in fault_in(heard)
    assert "open-sesame" not in fault_in(heard)


def test_whatever_the_library_raises_is_a_fault_and_its_words_stay_inside(monkeypatch) -> None:
    channel = apprise_channel("json://localhost", monkeypatch)
    monkeypatch.setattr(channel._service, "notify", lambda **_: (_ for _ in ()).throw(RuntimeError("open-sesame")))
    assert channel.send(message(created=NOON)) == "it did not take the message (RuntimeError)"
