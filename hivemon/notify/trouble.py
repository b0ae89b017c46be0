"""A channel that keeps failing is itself an advisory, on the other channels. Pure."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from hivemon.advice.texts import messages as texts
from hivemon.model import HOUR, Advisory, Urgency
from hivemon.notify.state import FEWEST

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.config_notify import NotifySettings
    from hivemon.model import Millis
    from hivemon.notify.state import ChannelState


def channel_trouble(
    name: str,
    state: ChannelState,
    waiting: int,
    now: Millis,
    settings: NotifySettings,
    zone: ZoneInfo,
) -> Advisory | None:
    """Return the advisory about a channel that keeps failing, or None. Its yard is empty: it is about the machine.

    Its id is the channel and the moment of its first failure: one row of failures, one advisory.
    """
    if state.since is None or state.failures < FEWEST or now - state.since < settings.failing_hours * HOUR:
        return None
    return Advisory(
        id=f"channel:{name}@{datetime.fromtimestamp(state.since / 1000, UTC):%Y%m%dT%H%M%SZ}",
        yard="",
        hive=None,
        raised=state.since,
        updated=now,
        urgency=Urgency.TODAY,
        title=texts.trouble_title(name),
        saw=texts.trouble_saw(name, state.since, zone, state.detail),
        means=texts.trouble_means(waiting),
        do=texts.trouble_do(name),
    )
