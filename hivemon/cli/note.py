"""`hivemon note`: the morning note, now."""

import json
import time
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, JsonOption, YardOption, load_settings, open_store, wanted_yards

if TYPE_CHECKING:
    from hivemon.notify.note import Note


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(note)


def note(
    config: ConfigOption = None,
    yard: YardOption = None,
    at: Annotated[str | None, typer.Option("--at", help="The note of that moment, from what stands now.")] = None,
    as_json: JsonOption = False,
) -> None:
    """The morning note, now: what needs you, what to expect this week, who is fine.

    What `hivemon run` sends every morning over the channels of the configuration. Half a minute's reading.
    """
    from hivemon.advice.words import speaking
    from hivemon.cli.played import said_of, season_over
    from hivemon.cli.times import moment
    from hivemon.notify.gather import note_view
    from hivemon.notify.note import morning_note

    settings = load_settings(config)
    current = int(time.time() * 1000)
    notes, seasons = [], set()
    with open_store(settings) as store:
        for place in wanted_yards(settings, yard):
            last = store.newest(place.id)
            when = moment(at, place.zone, current) if at is not None else current
            if at is None and last is not None and (season := season_over(store, last, current)):
                seasons.add(season)
                when = last
            with speaking(place.language or "en"):
                notes.append((place.id, morning_note(note_view(settings, store, place, when))))
    if as_json:
        screen.say(json.dumps([_object(name, found) for name, found in notes], indent=2, ensure_ascii=False))
        return
    for index, (_, found) in enumerate(notes):
        if index:
            screen.say()
        screen.tell(found.title)
        screen.say()
        for line in found.text.split("\n"):
            screen.tell(line)
    for season in sorted(seasons):
        screen.say()
        screen.tell(said_of(season))


def _object(yard: str, found: "Note") -> dict[str, object]:
    return {"yard": yard, "title": found.title, "text": found.text, "advisories": [a.id for a in found.told]}
