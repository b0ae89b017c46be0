"""What is said of a logbook entry once it is kept: what it lacks, what it does not go with, and that it waits."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from hivemon.advice.boxes import boxes
from hivemon.advice.counting import BEES
from hivemon.advice.scene import Scene
from hivemon.cli.display import counted, local
from hivemon.limits import MiteLimits
from hivemon.logbook_limits import odd_wash
from hivemon.model import DAY, Entry

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.config import Settings
    from hivemon.model import LogEntry, Millis
    from hivemon.store import Store

BEYOND: Millis = 3 * DAY
"""An entry this much later than a hive's last reading is of another time than the readings. Our rule."""


def remarks(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Yield what a person who has just entered this should know, in sentences."""
    if kept.entry is Entry.MITE_WASH:
        yield from _uncounted(kept)
    yield from _at_odds(settings, store, yard, kept)
    yield from _beyond_readings(settings, store, yard, kept)


def of_file(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Yield what to say of an entry that came in a file, where it is kept whatever it says."""
    what = f"{kept.entry.value} of hive {kept.hive} at {local(kept.time, settings.find_yard(yard).zone)}"
    if wrong := odd_wash(kept):
        yield f"{what}: {wrong.what}: {wrong.hint} (`hivemon log correct {kept.id}`)"
    for said in _at_odds(settings, store, yard, kept):
        yield f"{what}: {said}"


def _at_odds(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Say what an entry does not go with in the rest of the logbook."""
    if kept.entry is Entry.SUPER_ON:
        yield from _twin(settings, store, yard, kept)
    elif kept.entry is Entry.FEED:
        yield from _fed_under_supers(settings, store, yard, kept)


def _uncounted(wash: LogEntry) -> Iterator[str]:
    """Say what a mite wash lacks to be judged by."""
    again, bees = f"`hivemon log correct {wash.id}", BEES.search(wash.note)
    if wash.amount is None:
        lacking = "the number of mites" if bees else "the numbers of mites and bees"
        example = "--mites 4" if bees else "--mites 4 --bees 300"
        yield f"Without {lacking} nothing can be judged by it; with your own numbers: {again} {example}`."
    elif not bees:
        yield f"{MiteLimits().sample_bees} bees, half a cup, are taken; if it was another number: {again} --bees 400`."


def _twin(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Say that a super of the same day was entered before: one that is entered twice counts as two."""
    moment = datetime.fromtimestamp(kept.time / 1000, settings.find_yard(yard).zone)
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    first, last = (round((midnight + timedelta(days=days)).timestamp() * 1000) for days in (0, 1))
    there = store.entries(yard, kept.hive, first, last)
    twins = [entry.id for entry in there if entry.entry is Entry.SUPER_ON and entry.id < kept.id]
    if twins:
        yield (
            f"Number {twins[0]} is a super on {kept.hive} on the same day: these count as {len(twins) + 1} supers. "
            f"If it is the same one: `hivemon log strike {kept.id}`."
        )


def _fed_under_supers(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Say that a hive was fed with supers on, as the configuration and the logbook have it (common practice: never)."""
    place, hive = settings.find_yard(yard), settings.find_hive(kept.hive, yard)
    there = store.entries(yard, kept.hive, until=kept.time)
    supers = boxes(Scene(yard=place, hives=[hive], now=kept.time, logbook=there), hive).supers
    if supers:
        yield (
            f"By the logbook {counted(supers, 'super')} stood on {kept.hive}: syrup ends up in honey supers, and what "
            "holds it is no honey. Take supers off before feeding; if it was off by then, log that as super-off."
        )


def _beyond_readings(settings: Settings, store: Store, yard: str, kept: LogEntry) -> Iterator[str]:
    """Say that an entry changes nothing yet where the readings end long before it, or have never begun."""
    newest = store.newest(yard, kept.hive)
    if newest is None:
        yield f"No reading of {kept.hive} has come yet: this entry changes nothing until they do."
    elif kept.time > newest + BEYOND:
        moment = datetime.fromtimestamp(newest / 1000, settings.find_yard(yard).zone)
        last, before = (f"{day.day} {day:%B %Y}" for day in (moment, moment - timedelta(days=1)))
        yield (
            f"The newest reading of {kept.hive} is of {last}: this entry changes nothing there yet. If you meant a day "
            f"of that time, say the year: `hivemon log correct {kept.id} --at '{before} 16:00'`."
        )
