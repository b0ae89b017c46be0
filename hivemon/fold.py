"""The one fold: a yard's state and its readings in, the next state and what changed out. Pure.

The daemon, `replay`, tests and benchmarks all run `advance`. Readings must come in time order within a stream and not
be late (`is_late`); whoever feeds the fold goes back to an earlier state for those that are. How a stream is cut into
calls changes nothing: every decision is made at a reading, from readings up to it.

Once a day, half an hour after dawn, a yard is reckoned up: hive days, forage, sensors, the day's advice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import EMPTY, Advisory, Event, HiveDay, Series
from hivemon.signals.days import RECKONED_AFTER
from hivemon.signals.sun import sun_day
from hivemon.state import METRIC, Core, Ground, YardState, decode, encode
from hivemon.turn import Turn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.config import HiveSettings, UnitSettings, YardSettings
    from hivemon.model import LogEntry, Millis, Stream
    from hivemon.rules import Rules
    from hivemon.signals.scale_temperature import ScaleTemperature

__all__ = ["Change", "YardState", "advance", "begin", "cursors", "decode", "encode", "is_late", "scale_temperatures"]

Change = Event | Advisory | HiveDay
"""What a step of the fold can bring: a new one, or a later version of the same id (of the same hive and date)."""


def begin(
    yard: YardSettings,
    hives: Sequence[HiveSettings],
    rules: Rules,
    units: UnitSettings = METRIC,
) -> YardState:
    """Return the state of a yard of which nothing has been heard yet."""
    return YardState(Ground(yard, tuple(hives), rules, units), Core())


def is_late(state: YardState, stream: Stream, time: Millis) -> bool:
    """Whether a reading belongs before something already folded or decided.

    Then fold again from a kept state for which it is not late, and forget the kept states for which it is.
    """
    series = state.core.streams.get(stream, EMPTY)
    return time < state.core.decided or (len(series.time) > 0 and time <= int(series.time[-1]))


def cursors(state: YardState) -> dict[Stream, Millis]:
    """Return how far each stream is folded: time of its last reading; streams never heard are missing.

    To go on from a kept state, fold of each stream what lies after its own cursor. One moment for all would not do:
    a hive whose readings travel slowly may bring some from before the newest of another hive, without being late.
    """
    return {stream: int(series.time[-1]) for stream, series in state.core.streams.items() if len(series.time)}


def scale_temperatures(state: YardState) -> dict[str, ScaleTemperature]:
    """Return what the nights have told of each hive's scale: its temperature error, and how sure that is."""
    return {hive: memory.scale for hive, memory in state.core.hives.items()}


def advance(
    state: YardState,
    readings: Mapping[Stream, Series],
    logbook: Sequence[LogEntry],
) -> tuple[YardState, list[Change]]:
    """Fold readings into a yard's state.

    Args:
        state: The state so far; it is not changed.
        readings: New readings by stream, each in strictly ascending time, none of them late.
        logbook: The yard's whole logbook as known now.

    Returns:
        The next state, and what changed, in the order it was said.
    """
    turn = Turn(state, logbook)
    pending = {stream: series for stream, series in readings.items() if len(series.time)}
    while pending:
        first = min(int(series.time[0]) for series in pending.values())
        if turn.boundary is None:
            turn.boundary = _boundary(state.ground.yard, first)
        if first >= turn.boundary:
            turn.reckon(first)
            turn.boundary = _boundary(state.ground.yard, first)
        turn.walk(_nonempty({stream: series.until(turn.boundary) for stream, series in pending.items()}))
        pending = _nonempty({stream: series.since(turn.boundary) for stream, series in pending.items()})
    return turn.finish(), turn.changes


def _boundary(yard: YardSettings, moment: Millis) -> Millis:
    """Return the end of the reckoned day that holds a moment: half an hour after the next dawn."""
    return sun_day(yard, moment - RECKONED_AFTER).end + RECKONED_AFTER


def _nonempty(parts: dict[Stream, Series]) -> dict[Stream, Series]:
    return {stream: series for stream, series in parts.items() if len(series.time)}
