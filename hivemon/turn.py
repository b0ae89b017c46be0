"""One call of the fold at work: looks are given in time order, what they tell is collected, the next state is made."""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING

import numpy as np

from hivemon.advice.decide import advise
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.scene import Scene
from hivemon.config import HiveSettings
from hivemon.inference import flow
from hivemon.inference.cause import jumps
from hivemon.inference.feeding import meals
from hivemon.inference.look import Look, by_hive
from hivemon.inference.questions import QUESTIONS, HiveMemory, YardMemory, close_day
from hivemon.inference.windows import Windows
from hivemon.inference.yard_day import yard_day
from hivemon.model import DAY, MINUTE, Advisory, Event, HiveDay, Kind, Quantity, Series, Stream
from hivemon.signals.clean import level
from hivemon.signals.days import RECKONED_AFTER, hive_day
from hivemon.signals.scale_temperature import at_reference, left_between
from hivemon.signals.sun import sun_day
from hivemon.signals.water import DAMP_KG
from hivemon.signals.weather import Outside, Weather, weather
from hivemon.state import Core, YardState

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.model import LogEntry, Millis
    from hivemon.signals.sun import SunDay

EVENTS_KEPT: Millis = 75 * DAY
DAYS_KEPT = 190
"""Hive days remembered: supers stay on from April to the harvest in early October, and advice reckons what went in."""
LOGBOOK_SEEN: Millis = 60 * DAY
"""How far back judges look into the logbook: a brood break lasts 40 days."""

_WRITTEN = -1
"""What stands for a question where the logbook has something new."""


class Turn:
    """A mutable workbench over an immutable state. `boundary`: when the running hive day will be reckoned."""

    def __init__(self, state: YardState, logbook: Sequence[LogEntry]) -> None:
        core = state.core
        self.changes: list[Event | Advisory | HiveDay] = []
        self.boundary = core.boundary
        self._ground = state.ground
        self._logbook = logbook
        self._recent = by_hive(e for e in logbook if e.time >= core.time - LOGBOOK_SEEN)
        self._time = core.time
        self._decided = core.decided
        self._windows = Windows(core.streams)
        self._hives = dict(core.hives)
        self._yard = core.yard
        self._events = dict(core.events)
        self._days = dict(core.days)
        self._advisories = dict(core.advisories)

    def walk(self, part: Mapping[Stream, Series]) -> None:
        """Take in readings that all lie before the boundary, and ask the questions they wake, in time order."""
        if not part:
            return
        first_new = {stream: self._windows.append(stream, series) for stream, series in part.items()}
        before, self._time = self._time, max(self._time, *(int(series.time[-1]) for series in part.values()))
        queue = self._wake(first_new) + [(moment, "", _WRITTEN) for moment in self._written(part, before)]
        heapq.heapify(queue)
        asked: set[tuple[int, str, int]] = set()
        told: Millis | None = None
        while queue:
            wake = heapq.heappop(queue)
            if wake in asked:
                continue
            asked.add(wake)
            moment, hive, number = wake
            if told is not None and told < moment:
                self._advise(told)  # once a moment, whatever was told in it
                told = None
            if number == _WRITTEN:
                self._decided = max(self._decided, moment)
                told = moment
                continue
            if self._ask(moment, hive, number):
                told = moment
            if QUESTIONS[number].restless(self._memory(hive)):
                following = self._next_reading(hive, number, moment)
                if following is not None:
                    heapq.heappush(queue, (following, hive, number))
        if told is not None:
            self._advise(told)

    def reckon(self, now: Millis) -> None:
        """Reckon up the hive day that ended before the boundary; `now` is the first reading at or after it."""
        if self.boundary is None:
            return
        sun = sun_day(self._ground.yard, self.boundary - RECKONED_AFTER - 1)
        days = [self._hive_day(hive, sun) for hive in self._hives_heard()]
        if days:
            held = self._water_at(sun.dawn)
            today = self._weather(now, sun, days, held)
            wet = max(held, today.water) >= DAMP_KG
            for day in days:
                self._close_hive_day(now, day, [other for other in days if other is not day], wet=wet)
            self._close_yard_day(now, days, today)
        self._decided = max(self._decided, now)
        self._advise(now)

    def finish(self) -> YardState:
        """Return the next state, with what is too old forgotten."""
        core = Core(
            time=self._time,
            decided=self._decided,
            boundary=self.boundary,
            streams=self._windows.kept(),
            hives=self._hives,
            yard=self._yard,
            events=self._remembered(),
            days=self._days,
            advisories=self._advisories,
        )
        return YardState(self._ground, core)

    # -- questions -----------------------------------------------------------------------------------------------------

    def _wake(self, first_new: Mapping[Stream, int]) -> list[tuple[int, str, int]]:
        """Return (moment, hive, question) for every new reading that a gate lets through or a watch waits for."""
        queue = []
        for stream, first in first_new.items():
            if stream.hive is None:
                continue
            window, memory = self._windows.whole(stream), self._memory(stream.hive)
            for number, question in enumerate(QUESTIONS):
                if question.wakes is not stream.quantity or question.asleep(memory, self._yard):
                    continue
                moments = question.gate(window, first, self._ground.rules, self._ground.yard).tolist()
                queue += [(moment, stream.hive, number) for moment in moments]
                if question.restless(memory):
                    queue.append((int(window.time[first]), stream.hive, number))
        return queue

    def _written(self, part: Mapping[Stream, Series], before: Millis) -> set[Millis]:
        """Return the first readings after what was written since `before`: who put a super on need not be told to."""
        entries = [e.time for e in self._logbook if before < e.time <= self._time]
        if not entries:
            return set()
        times = np.unique(np.concatenate([series.time for series in part.values()]))
        return set(times[np.searchsorted(times, entries)].tolist())

    def _ask(self, moment: Millis, hive: str, number: int) -> bool:
        """Ask a question; return whether it told anything."""
        look = self._look(moment, hive)
        self._hives[hive] = QUESTIONS[number].judge(look, self._memory(hive), self._yard)
        if look.peeked:
            self._decided = max(self._decided, moment)
        told = self._take(look)
        if told:
            self._decided = max(self._decided, moment)
        return told

    def _next_reading(self, hive: str, number: int, moment: Millis) -> Millis | None:
        time = self._windows.whole(Stream(hive, QUESTIONS[number].wakes)).time
        index = int(np.searchsorted(time, moment, side="right"))
        return int(time[index]) if index < len(time) else None

    def _look(self, now: Millis, hive: str | None) -> Look:
        ground = self._ground
        return Look(ground.yard, ground.rules, now, hive, self._windows, self._events, self._days, self._recent)

    def _take(self, look: Look) -> bool:
        """Take over what a look told; return whether it told anything."""
        for event in look.told.values():
            if self._events.get(event.id) != event:
                self._events[event.id] = event
                self.changes.append(event)
        return bool(look.told)

    # -- once a day ----------------------------------------------------------------------------------------------------

    def _hive_day(self, hive: str, sun: SunDay) -> HiveDay:
        memory = self._memory(hive)
        outside = self._plausible(None, Quantity.OUTSIDE_TEMPERATURE)
        weight = at_reference(self._plausible(hive, Quantity.WEIGHT), outside, memory.scale.error)
        nest = self._plausible(hive, Quantity.TEMPERATURE)
        heat = left_between(memory.scale, outside, sun.dawn, sun.end)
        return hive_day(self._ground.yard.id, hive, sun, weight, nest, jumps(memory.steps.steps), heat)

    def _close_hive_day(self, now: Millis, day: HiveDay, others: Sequence[HiveDay], *, wet: bool) -> None:
        look = self._look(now, day.hive)
        memory = self._memory(day.hive)
        self._hives[day.hive] = close_day(look, memory, day, others, until=self.boundary or now, wet=wet)
        self._take(look)
        self._days[day.hive] = (*self._days.get(day.hive, ()), day)[-DAYS_KEPT:]
        self.changes.append(day)

    def _water_at(self, dawn: Millis) -> float:
        """Return the water reckoned on a hive when a day began, kg."""
        before = self._yard.flow.days[-1:]
        return before[0].water if before and before[0].end == dawn else 0.0

    def _weather(self, now: Millis, sun: SunDay, days: Sequence[HiveDay], held: float) -> Weather:
        look = self._look(now, None)
        sensed = (Quantity.OUTSIDE_TEMPERATURE, Quantity.OUTSIDE_HUMIDITY, Quantity.RAIN)
        outside = Outside(*(look.other(quantity, None) for quantity in sensed))
        return weather(sun, outside, days, self._ground.rules.flow, held=held)

    def _close_yard_day(self, now: Millis, days: Sequence[HiveDay], today: Weather) -> None:
        look = self._look(now, None)
        memories = {day.hive: self._memory(day.hive) for day in days}
        told = [d for d in days if not memories[d.hive].sensors.spoils_weight]
        given = {d.hive: meals(look, memories[d.hive].steps, d) for d in told}
        robbed_on = {hive for hive, memory in memories.items() if memory.robbing.event}
        day = yard_day(look, days[0], told, given, len(days), today, robbed_on=robbed_on)
        memory = flow.judge(look, self._yard.flow, day)
        self._yard = YardMemory(flow=memory)
        self._take(look)

    # -- advice --------------------------------------------------------------------------------------------------------

    def _advise(self, now: Millis) -> None:
        """Let advice follow from what is known now."""
        open_ = list(self._advisories.values())
        for advisory in reconcile(open_, advise(self._scene(now, open_)), now):
            self.changes.append(advisory)
            if advisory.closed is None:
                self._advisories[advisory.id] = advisory
            else:
                self._advisories.pop(advisory.id, None)

    def _scene(self, now: Millis, open_: Sequence[Advisory]) -> Scene:
        ground = self._ground
        heard = self._hives_heard()
        known = {h.id: h for h in ground.hives}
        outside = self._plausible(None, Quantity.OUTSIDE_TEMPERATURE).between(now - DAY, now)
        return Scene(
            yard=ground.yard,
            hives=[known.get(hive) or HiveSettings(id=hive, yard=ground.yard.id) for hive in heard],
            now=now,
            events=list(self._events.values()),
            days=self._days,
            logbook=[e for e in self._logbook if e.time <= now],
            weights={hive: weight for hive in heard if (weight := self._weight(hive, now)) is not None},
            units=ground.units,
            open=open_,
            outside_celsius=float(outside.value.max()) if len(outside.value) else None,
        )

    def _weight(self, hive: str, now: Millis) -> float | None:
        """Return a hive's weight now: the median of its last hour's readings before now, or of the last day's."""
        series = self._plausible(hive, Quantity.WEIGHT)
        newest = level(series, now - 60 * MINUTE, now)
        return newest if newest is not None else level(series, now - DAY, now)

    # -- what is known -------------------------------------------------------------------------------------------------

    def _plausible(self, hive: str | None, quantity: Quantity) -> Series:
        return self._windows.plausible(Stream(hive, quantity))

    def _hives_heard(self) -> list[str]:
        return sorted({stream.hive for stream in self._windows if stream.hive is not None})

    def _memory(self, hive: str) -> HiveMemory:
        return self._hives.get(hive) or HiveMemory()

    def _remembered(self) -> dict[str, Event]:
        """Return the events that may still matter.

        The newest weeks', swarms as long as the days after them, faults as long as they stand, and the last word on
        flow and on dearth however old.
        """
        oldest = dict.fromkeys(Kind, self._time - EVENTS_KEPT) | {Kind.SWARM: self._time - DAYS_KEPT * DAY}
        matters = {fault.event for memory in self._hives.values() for fault in memory.sensors.faults}
        for kinds in _FORAGE:
            told = [e for e in self._events.values() if e.kind in kinds and e.withdrawn is None]
            matters |= {e.id for e in sorted(told, key=lambda e: e.raised)[-1:]}
        return {
            id_: e
            for id_, e in self._events.items()
            if max(e.raised, e.withdrawn or 0) >= oldest[e.kind] or id_ in matters
        }


_FORAGE = ({Kind.FLOW_ONSET, Kind.FLOW_END}, {Kind.DEARTH_ONSET, Kind.DEARTH_END})
