"""Sending what waits for one channel. Each channel has a thread of its own, so that a slow one holds up no other.

A message leaves its queue when its channel has accepted it: a crash between sending and marking costs a repeat, one at
any other moment nothing, and a channel that is away for a week gets everything when it is back.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import msgspec

from hivemon.notify.state import NOTE, ChannelState, keep_state

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.model import Millis
    from hivemon.notify.channels import Channel
    from hivemon.store import Message, Store

PATIENCE = 10
"""Failed tries after which a message may be the trouble itself, not its channel. Our rule."""

log = logging.getLogger(__name__)


class Delivery:
    """Sends over one channel, in order. Keep it, with its store, in one thread.

    How the channel fares is kept in the store, so that a start does not forget a failing one.
    """

    def __init__(self, store: Store, name: str, channel: Channel, clock: Callable[[], Millis]) -> None:
        self._store = store
        self._name = name
        self._channel = channel
        self._clock = clock
        self._state = (NOTE.read(store) or {}).get(name, ChannelState())

    def turn(self, stopping: Callable[[], bool] = lambda: False) -> None:
        """Send what waits until nothing does or the channel fails; then it rests for a while.

        A message that has failed often may be the trouble itself: then the next one is tried before the rest.
        `stopping` is asked between messages. Raises StoreError; nothing is lost then.
        """
        left_out: list[int] = []
        while (left_out or self._state.due(self._clock())) and not stopping():
            message = self._store.next_message(self._name, left_out)
            if message is None:
                return
            if self._sent(message):
                continue
            if left_out or message.attempts < PATIENCE:
                return
            left_out.append(message.id)

    def _sent(self, message: Message) -> bool:
        """Send one message, and keep how it went."""
        self._keep(msgspec.structs.replace(self._state, trying=self._clock()))
        fault = self._channel.send(message)
        now = self._clock()
        with self._store.transaction():
            if fault is None:
                self._store.mark_sent(message.id, now)
                self._works(now)
            else:
                self._store.mark_failed(message.id, now)
                self._fails(fault, now)
        return fault is None

    def _works(self, now: Millis) -> None:
        before = self._state
        if before.failures:
            log.info("the channel %s works again after %d failures", self._name, before.failures)
        else:
            log.info("told people over the channel %s", self._name)
        self._keep(ChannelState(last_sent=now))

    def _fails(self, fault: str, now: Millis) -> None:
        if self._state.detail != fault:
            log.warning("the channel %s does not work: %s; messages are kept and sent later", self._name, fault)
        self._keep(self._state.failed(fault, now))

    def _keep(self, state: ChannelState) -> None:
        keep_state(self._store, self._name, state)
        self._state = state
