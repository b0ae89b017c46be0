"""Every channel of the configuration, ready to send."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from hivemon.config import BrokerSettings
from hivemon.notify.by_file import FileChannel

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.config_notify import ChannelSettings
    from hivemon.store.notices import Message


class Channel(Protocol):
    """A way to reach people."""

    def send(self, message: Message) -> str | None:
        """Send a message; return None once it is accepted, or in plain words why not, with no secret in them.

        Raises nothing. A message that is sent twice comes twice.
        """
        ...


def make_channels(settings: Settings) -> dict[str, Channel]:
    """Return the channels by name, in the order of the file. Raises ConfigError for one that cannot work."""
    return {channel.name: make_channel(channel, settings) for channel in settings.channel}


def make_channel(channel: ChannelSettings, settings: Settings) -> Channel:
    """Return one channel. Raises ConfigError when its secrets cannot be read or its address cannot be used."""
    if channel.kind == "file":
        return FileChannel(channel)
    if channel.kind == "mqtt":
        from hivemon.notify.by_mqtt import MqttChannel  # noqa: PLC0415 - only those who use it wait for it

        return MqttChannel(channel, broker_of(settings), try_five=settings.broker is not None)
    from hivemon.notify.by_apprise import AppriseChannel  # noqa: PLC0415 - only those who use it wait for it

    return AppriseChannel(channel)


def broker_of(settings: Settings) -> BrokerSettings:
    """Return the broker that brings the readings: the beekeeper's own, or the one inside hivemon, from this machine."""
    if settings.broker is not None:
        return settings.broker
    inside = settings.embedded
    host = "127.0.0.1" if inside.bind in ("0.0.0.0", "::", "") else inside.bind  # noqa: S104 - only compared
    return BrokerSettings(host=host, port=inside.port, tls=False)
