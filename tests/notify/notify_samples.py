"""Advisories, settings and channels for the tests of telling people: an invented yard, its own clock."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from hivemon.config import HiveSettings, Settings, StoreSettings, YardSettings
from hivemon.config_notify import ChannelSettings, NotifySettings
from hivemon.model import Advisory, Urgency
from hivemon.notify.delivery import Delivery
from hivemon.notify.notifier import Notifier
from hivemon.store import Message, Sort, Store

ZONE = ZoneInfo("Europe/Brussels")
YARD = YardSettings(id="orchard", name="Orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
LIME = HiveSettings(id="o1", yard="orchard", name="Lime")
ASH = HiveSettings(id="o2", yard="orchard", name="Ash")
PLAIN = HiveSettings(id="o3", yard="orchard")
USUAL = NotifySettings()


def at(text: str, zone: ZoneInfo = ZONE) -> int:
    """Return a moment on the yard's clock, "2026-06-06 12:00", as ms UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=zone).timestamp() * 1000)


NOON = at("2026-06-06 12:00")
"""Saturday 6 June 2026, by day."""
NIGHT = at("2026-06-06 23:00")


def advisory(urgency: Urgency = Urgency.TODAY, when: int = NOON, **more) -> Advisory:
    """Return an advisory raised and last updated at `when`; `more` overrides any field."""
    fields = {
        "id": "feed:orchard:o1@20260606T100000Z",
        "yard": "orchard",
        "hive": "o1",
        "raised": when,
        "updated": when,
        "urgency": urgency,
        "title": "Lime is short of food: feed it today",
        "saw": "Lime holds about 2 kg of food.",
        "means": "That lasts about three days.",
        "could_also_be": ["The weight of the empty boxes is not known."],
        "do": ["Give 2 kg of sugar in 2 litres of water this evening.", "Log it."],
        "cautions": ["Warm syrup burns."],
    }
    return Advisory(**{**fields, **more})


def message(**more) -> Message:
    fields = {
        "created": NOON,
        "yard": "orchard",
        "sort": Sort.ADVICE,
        "title": "Orchard, now: é蜂",
        "text": "Look.\nNow.",
    }
    return Message(**{**fields, **more})


def settings(folder, *channels: ChannelSettings, **more) -> Settings:
    """Return a configuration whose store stands in `folder`."""
    return Settings(
        yard=[YARD],
        hive=[LIME, ASH],
        store=StoreSettings(path=str(folder / "hivemon.db")),
        channel=list(channels),
        **more,
    )


class Telling:
    """All of telling people in one thread, with a clock of its own: what is due is decided, then each channel sends."""

    def __init__(self, settings: Settings, store: Store, channels: dict) -> None:
        self.now = 0
        self._notifier = Notifier(settings, store, channels)
        self._deliveries = [Delivery(store, name, channel, lambda: self.now) for name, channel in channels.items()]

    def turn(self, now: int, stopping=lambda: False) -> None:
        self.now = now
        self._notifier.turn(now)
        for delivery in self._deliveries:
            delivery.turn(stopping)


class BookChannel:
    """Takes every message while `fault` is None."""

    def __init__(self, fault: str | None = None) -> None:
        self.fault = fault
        self.tries = 0
        self.taken: list[Message] = []

    def send(self, message: Message) -> str | None:
        self.tries += 1
        if self.fault is None:
            self.taken.append(message)
        return self.fault

    @property
    def titles(self) -> list[str]:
        return [message.title for message in self.taken]
