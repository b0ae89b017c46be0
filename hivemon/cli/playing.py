"""A season played to a daemon over MQTT: the threads behind `hivemon demo`."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING, Self

from hivemon.config import BrokerSettings
from hivemon.daemon import Daemon
from hivemon.errors import LinkError
from hivemon.intake.files import read_readings
from hivemon.intake.link import LinkState
from hivemon.intake.play import play
from hivemon.model import SECOND

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.recordings import Recording

START_SECONDS = 15.0
"""Longest wait for the embedded broker and the daemon's link to it."""
STOP_SECONDS = 10.0
"""Longest wait for the daemon to stop in order."""


class Season:
    """A daemon with its embedded broker, and a player that publishes a recording to it, while the block lasts.

    Entering waits until the daemon listens; leaving stops the player and then the daemon, in order.
    """

    def __init__(self, settings: Settings, recording: Recording, seconds: float) -> None:
        self.settings = settings
        self._recording = recording
        self._seconds = seconds
        self._daemon = Daemon(settings)
        self._failures: list[BaseException] = []
        self._sent: int | None = None
        self._stopping = threading.Event()
        self._engine = threading.Thread(
            target=self._guarded, args=(self._daemon.run_forever,), name="daemon", daemon=True
        )
        self._player = threading.Thread(target=self._guarded, args=(self._play,), name="player", daemon=True)

    def __enter__(self) -> Self:
        """Start the daemon, wait until it listens, start the player; raises what kept the daemon from starting."""
        try:
            self._engine.start()
            self._await_listening()
            self._player.start()
        except BaseException:
            self.stop()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
        if error is None:
            self.check()

    @property
    def finished(self) -> bool:
        """Whether all that was played has been kept and judged."""
        sent = self._sent
        return sent is not None and self._daemon.status.messages >= sent and self._daemon.idle

    def check(self) -> None:
        """Raise what went wrong in a thread, if anything did."""
        if self._failures:
            raise self._failures[0]

    def _play(self) -> None:
        """Publish the recording so that it takes about as long as was asked for."""
        first, last = _span(self._recording)
        sent = play(
            self._recording.readings,
            BrokerSettings(host="127.0.0.1", port=self.settings.embedded.port),
            speed=(last - first) / SECOND / self._seconds,
            stopping=self._stopping.is_set,
        )
        if not self._stopping.is_set():
            self._sent = sent

    def _await_listening(self) -> None:
        give_up = time.monotonic() + START_SECONDS
        while not self._listens():
            self.check()
            if time.monotonic() > give_up:
                raise LinkError(
                    "the embedded broker did not answer in time", hint="is the machine very busy? try again"
                )
            time.sleep(0.05)

    def _listens(self) -> bool:
        link = getattr(self._daemon, "link", None)
        return link is not None and link.status.state is LinkState.UP

    def stop(self) -> None:
        """Stop the player, then the daemon, in order; what has arrived is kept and judged. May be called twice."""
        self._stopping.set()
        if self._player.ident is not None:
            self._player.join(STOP_SECONDS)
        self._daemon.stop()
        if self._engine.ident is not None:
            self._engine.join(STOP_SECONDS)

    def _guarded(self, work: Callable[[], None]) -> None:
        """Run a thread's work; its failure is raised in the main thread by `check`."""
        try:
            work()
        except Exception as error:  # noqa: BLE001 - handed over, not swallowed
            self._failures.append(error)


def _span(recording: Recording) -> tuple[Millis, Millis]:
    """Return the times of a recording's first and last reading."""
    batches = read_readings(recording.readings)
    times = [series.time for batch in batches for streams in batch.values() for series in streams.values()]
    return int(min(time[0] for time in times)), int(max(time[-1] for time in times))
