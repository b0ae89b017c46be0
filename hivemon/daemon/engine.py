"""The daemon's engine: one turn as a function of the time, and the five lines that call it for ever.

A turn: take what has arrived and commit it, acknowledge it, fold what is new, write what follows. The thread that runs
the engine owns the store; the link, the embedded broker, the copy to InfluxDB and the messages to people have threads
of their own and only hand over.
"""

from __future__ import annotations

import logging
import os
import queue
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import msgspec

import hivemon
from hivemon.daemon import twins
from hivemon.daemon.again import Notices
from hivemon.daemon.clock import not_yet, was_set_back, was_set_forward
from hivemon.daemon.gathering import PAUSE, Gathering
from hivemon.daemon.judge import YardJudge
from hivemon.daemon.lock import Lock
from hivemon.daemon.notifying import Notifying
from hivemon.daemon.sending import Sending
from hivemon.daemon.service import ServiceManager
from hivemon.daemon.taking import Taking
from hivemon.errors import StoreError
from hivemon.intake.embedded import EmbeddedLink
from hivemon.intake.mqtt import MqttLink
from hivemon.model import DAY, HOUR, MINUTE, SECOND, rfc3339
from hivemon.store import Store
from hivemon.store.daemon_state import WRITTEN_EVERY, DaemonStatus, read_status, write_status
from hivemon.store.notes import Note
from hivemon.store.witness import LOST, Witness

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from hivemon.config import Settings
    from hivemon.fold import Change
    from hivemon.intake.link import Link, Message
    from hivemon.model import Millis

LOOK_EVERY: Millis = SECOND
"""How soon a change made by another process is noticed."""
COALESCE: Millis = 250
"""Under load, readings of this long are folded together."""
FOLD_SHARE = 3
"""After a fold, this many times as long is left to the rest before the next one."""
MOST_MESSAGES = 4000
"""Messages in one transaction."""
RETRY: Millis = 2 * SECOND
"""Between tries while the store cannot be used."""
RETRY_FOLD: Millis = 10 * MINUTE
"""Between tries of a yard whose fold fails for an error of the program's own."""

TOPICS = Note("topics", list[str])
"""Where the daemon leaves what it subscribed to: a broker goes on sending it to a session it remembers."""
MOST_LEFT = 1000
"""Topics of earlier runs that are remembered."""

log = logging.getLogger("hivemon.daemon")


class Daemon:
    """Takes readings in, keeps them, judges them.

    Args:
        settings: The configuration; `settings.store.path` names the store.
        on_change: Called in the engine's thread with everything said, after it is on the disk.
        clock: Milliseconds UTC now.

    Where `begin_anew` is set after `run_forever`, another store has come to its path: a new daemon should take over.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        on_change: Callable[[Change], None] | None = None,
        clock: Callable[[], Millis] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self.settings = settings
        self._on_change = on_change or (lambda _: None)
        self._clock = clock
        self._arrived: queue.SimpleQueue[list[Message]] = queue.SimpleQueue()
        self._held: list[Message] = []
        self._gathering = Gathering()
        self._taken_at: Millis = 0
        self._stopping = False
        self.begin_anew = False
        self._opened = ExitStack()
        self._manager = ServiceManager()
        self._fold_at: Millis = 0
        self._look_at: Millis = 0
        self._status_at: Millis = 0
        self._retain_at: Millis = 0
        self._devices_at: Millis = 0
        self._retry_at: Millis = 0
        self._turned_at: Millis = clock()
        self._set_forward = False
        self._broken: dict[str, Millis] = {}
        self._status = DaemonStatus(version=hivemon.__version__, pid=os.getpid(), started=clock(), written=0)

    @property
    def status(self) -> DaemonStatus:
        """What the daemon says about itself as of its last turn; may be read from any thread."""
        return self._status

    @property
    def idle(self) -> bool:
        """Whether everything taken so far is committed and judged; may be read from any thread once it is open."""
        return not self._held and self._arrived.empty() and not any(judge.waits for judge in self._judges.values())

    # ------------------------------------------------------------ life

    def run_forever(self) -> None:
        """Run until `stop`; raises StoreError, LinkError or ConfigError when it cannot start."""
        with self:
            while not self._stopping:
                self._wait()
                self.turn(self._clock())

    def stop(self) -> None:
        """Have the engine stop in order, from any thread or a signal handler; it takes a few seconds at most."""
        self._stopping = True
        self._arrived.put([])

    def __enter__(self) -> Self:
        """Open everything, begin to listen, and judge what was left over from the last run.

        Readings are taken in, kept and acknowledged between two yards' judging, however long all of it takes.
        """
        try:
            self._open()
        except BaseException:
            self._opened.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop listening, finish what has arrived, keep the states, and close."""
        try:
            if error is None:
                self._finish()
        finally:
            self._opened.close()

    def _open(self) -> None:
        self._hold_lock()
        notifying = Notifying(self.settings)
        self.store = self._opened.enter_context(Store.open(Path(self.settings.store.path)))
        self._witness = Witness(Path(self.settings.store.path))
        self._look_back()
        self._await_time()
        now = self._clock()
        self._notices = Notices(self.store)
        self._judges = {yard.id: YardJudge(self.settings, yard.id, self.store) for yard in self.settings.yard}
        self._taking = Taking(self.settings, self.store, self._judges)
        self._retain_at = self._devices_at = now + HOUR
        self._look(now)
        self.link = self._make_link()
        self._opened.callback(self.link.stop)
        if self.settings.influx is not None:
            sending = Sending(self.settings, self.settings.influx)
            self._opened.callback(sending.stop, 2.0)
            sending.start()
        if not self._stopping:
            self.link.start()
        self._tell(now)
        self._manager.ready()
        began = time.monotonic()
        self._fold(now)
        log.info("what was stored before the start is judged, in %.1f s", time.monotonic() - began)
        self._fold_at = 0  # what came in meanwhile is judged next
        if self.settings.channel:  # only now: people are told of what stands, not of what stood at the last run
            self._opened.callback(notifying.stop, 2.0)
            notifying.start()

    def _look_back(self) -> None:
        """Say what a disk has lost since the last run, and keep that said."""
        if lost := self._witness.lost(self.store):
            log.error("%s; what nodes, a broker or InfluxDB still have of it can be imported", lost)
            self.store.put_note(LOST, f"{self._clock()} {lost}")

    def _await_time(self) -> None:
        """Wait until the clock can be right; a board without a battery for it starts anywhere in the past."""
        last = read_status(self.store)
        before, began, told = last.written if last else 0, time.monotonic(), False
        while not self._stopping:
            now = self._clock()
            what = not_yet(now, before, int((time.monotonic() - began) * SECOND))
            if not what:
                break
            if not told:
                log.warning("%s; readings wait with the broker and the nodes until it is", what)
                self._manager.ready()
                told = True
            self._set(trouble=what)
            write_status(self.store, msgspec.structs.replace(self._status, written=max(now, before)))
            self._manager.in_trouble(what, now)
            time.sleep(0.5)
        self._turned_at = self._clock()
        self._set(trouble="", started=self._turned_at)
        if told:
            log.info("the clock says %s: going on", rfc3339(self._turned_at))

    def _hold_lock(self) -> None:
        """Make sure that no other daemon works on the store; a command that judges is waited for."""
        give_up = time.monotonic() + 10
        while not self._opened.enter_context(Lock.of(self.settings)):
            if time.monotonic() > give_up:
                raise StoreError(
                    f"another hivemon works on {self.settings.store.path}",
                    hint="stop it first, or give this one a store of its own (store.path)",
                )
            time.sleep(0.2)

    def _make_link(self) -> Link:
        topics = self._taking.translator.topics()
        if self.settings.broker is not None:
            leave = self._no_longer_wanted(topics)
            return MqttLink(self.settings.broker, topics, self._arrived.put, leave=leave, clock=self._clock)
        embedded = self.settings.embedded
        return EmbeddedLink(embedded.bind, embedded.port, topics, self._arrived.put, clock=self._clock)

    def _no_longer_wanted(self, topics: list[str]) -> list[str]:
        """Return the topics of earlier runs that are wanted no more, and remember both for the next."""
        before = TOPICS.read(self.store) or []
        leave = [topic for topic in before if topic not in topics][:MOST_LEFT]
        TOPICS.put(self.store, [*topics, *leave])
        return leave

    def _finish(self) -> None:
        now = self._clock()
        self._manager.stopping()
        try:
            self.link.hold()
            self._take(now)
            self._fold(now)
            for judge in self._judges.values():
                judge.keep()
        except StoreError as error:
            log.error("stopped with the store in trouble: %s; %s", error, error.hint)  # noqa: TRY400 - said in words
        else:
            self._tell(now, running=False)

    # ------------------------------------------------------------ turns

    def turn(self, now: Millis) -> None:
        """Do what is due at `now`. Trouble with the store is said once and tried again; nothing is lost by it."""
        self._mind_the_clock(now)
        if now < self._retry_at:
            return
        try:
            self._take(now)
            if now >= self._look_at:
                self._look(now)
            if now >= self._fold_at:
                self._fold(now)
            if now >= self._retain_at:
                self._retain(now)
            if now >= self._status_at or self.link.status.since > self._status.written:
                self._tell(now)
        except StoreError as error:
            self._in_trouble(error, now)
        else:
            if self._status.trouble:
                log.info("the store works again")
                self._set(trouble="")

    def _in_trouble(self, error: StoreError, now: Millis) -> None:
        """Say it once, and when it is tried again.

        Where another file stands at the store's path by now, as when a disk is mounted anew, trying this one again is
        of no use, and its states may not fit the other: the daemon stops, to be begun anew.
        """
        if not self._status.trouble:
            log.error("the store is in trouble, trying again: %s; %s", error, error.hint)
        self._set(trouble=f"{error}")
        self._manager.in_trouble(f"{error}", now)
        self._retry_at = now + RETRY
        if self.store.replaced:
            log.warning("another file stands at %s now: beginning anew with it", self.settings.store.path)
            self.begin_anew = self._stopping = True

    def _mind_the_clock(self, now: Millis) -> None:
        """See whether the clock was set since the last turn.

        When it went back everything is due now, else nothing would be until it has caught up. When it went forward,
        what had been refused since it lay in the future may be right.
        """
        before, self._turned_at = self._turned_at, now
        if was_set_back(now, before):
            self._fold_at = self._look_at = self._status_at = self._retry_at = now
            self._retain_at = self._devices_at = now + HOUR
            self._broken = dict.fromkeys(self._broken, now)
        self._set_forward = self._set_forward or was_set_forward(now, before)

    def _wait(self) -> None:
        """Wait for messages, or until something is due."""
        now = self._clock()
        if now < self._retry_at:
            time.sleep(min(self._retry_at - now, 200) / SECOND)
            return
        due = [self._look_at, self._retain_at, self._status_at]
        if any(judge.waits and now >= self._broken.get(yard, 0) for yard, judge in self._judges.items()):
            due.append(self._fold_at)
        seconds = min(max(min(due) - now, 0) / SECOND, 1.0)
        try:
            self._held += self._arrived.get(timeout=seconds) if seconds else self._arrived.get_nowait()
        except queue.Empty:
            return
        if self._held and (pause := self._gathering.pause(_monotonic())):
            before = len(self._held)
            time.sleep(pause / SECOND)
            self._collect()
            self._gathering.learn(before, len(self._held), _monotonic())

    def _collect(self) -> None:
        """Have at hand what has arrived."""
        while len(self._held) < MOST_MESSAGES:
            try:
                self._held += self._arrived.get_nowait()
            except queue.Empty:
                break

    def _take(self, now: Millis) -> None:
        """Commit what has arrived, then acknowledge it. A message stays held until it is committed."""
        self._taken_at = _monotonic()
        self._collect()
        if self._set_forward:
            self._taking.take_again(now)
            self._set_forward = False
        if not self._held:
            return
        taken = self._taking.take(self._held, now)
        self.link.ack(self._held)
        status = self._status
        self._set(
            messages=status.messages + len(self._held),
            readings=status.readings + taken.readings,
            duplicates=status.duplicates + taken.duplicates,
            refused=status.refused + taken.refused,
        )
        self._held = []

    def _look(self, now: Millis) -> None:
        """See what other processes have changed, and each hour how the devices behave."""
        for yard, because in self._notices.collect().items():
            if yard in self._judges:
                self._judges[yard].go_back(because)
        if now >= self._devices_at:
            twins.look(self.store, self._judges)
            self._taking.slow_clocks.tell(self.store)
            self._devices_at = now + HOUR
        self._look_at = now + LOOK_EVERY

    def _fold(self, now: Millis) -> None:
        """Fold every yard with something new; after an error of our own one yard waits, the others go on."""
        began = time.monotonic()
        folded = False
        for yard, judge in self._judges.items():
            if not judge.waits or now < self._broken.get(yard, 0):
                continue
            folded = True
            try:
                said = judge.fold()
            except StoreError:
                raise
            except Exception:
                log.exception("yard %s cannot be judged for an error of the program's own; its readings are kept", yard)
                self._broken[yard] = now + RETRY_FOLD
                continue
            for change in said:
                self._announce(change)
            if not self._arrived.empty() and _monotonic() - self._taken_at >= PAUSE:
                self._take(self._clock())  # no reading waits to be kept until every yard is judged
            if self._clock() >= self._status_at:
                self._tell(self._clock())
        if folded:
            took = (time.monotonic() - began) * SECOND
            busy = 0 if self._arrived.empty() else COALESCE
            self._fold_at = now + int(max(took * (1 + FOLD_SHARE), busy))

    def _retain(self, now: Millis) -> None:
        """Thin out what is old, counted from the newest reading where that lies behind the clock."""
        newest = self.store.newest()
        if newest is not None:
            gone = self.store.retain(min(now, newest), self.settings.store.raw_days)
            if gone.readings:
                log.info("thinned out %d readings into %d quarter-hour means", gone.readings, gone.windows)
        self._retain_at = now + DAY

    def _tell(self, now: Millis, *, running: bool = True) -> None:
        """Leave the status in the store."""
        link = self.link.status
        self._set(
            written=now,
            running=running,
            link=link.state,
            link_reason=link.reason,
            link_since=link.since,
            link_refused=link.refused,
            mqtt=link.version,
            last_message=link.last_message,
            waiting=len(self._held),
        )
        write_status(self.store, self._status)
        self._witness.beat(self.store, now)
        self._status_at = now + WRITTEN_EVERY
        if self.link.alive:
            self._manager.worked(self._status)

    def _set(self, **fields: Any) -> None:
        self._status = msgspec.structs.replace(self._status, **fields)

    def _announce(self, change: Change) -> None:
        try:
            self._on_change(change)
        except Exception:
            log.exception("what was said is stored, but could not be shown")


def _monotonic() -> Millis:
    return time.monotonic_ns() // 1_000_000
