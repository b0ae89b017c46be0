"""Words about a dearth in the yard."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.texts.heat import ventilation
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, likely, listed, say, typical
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event


_NEWS_DAYS = 8
"""How long a dearth asks for something: whoever comes once a week has been there by then. Our rule."""


class FoodSummary(NamedTuple):
    """Hives short of food, which have their own note, and those with enough: weighed empty, or by a guess."""

    short: Sequence[HiveSettings]
    fine: Sequence[HiveSettings]
    guessed: Sequence[HiveSettings]


def dearth(
    scene: Scene,
    name: str,
    onset: Event,
    airy: Sequence[HiveSettings],
    food: FoodSummary,
) -> Advisory:
    """Say that nothing comes in: leave them alone, invite no robbers; `airy` hives need ventilation first.

    After a visit's time it only says how things stand.
    """
    voice = Voice(scene)
    do_by = voice.visit(voice.evening(onset.raised, plus=3))
    lasting = scene.now - onset.raised > _NEWS_DAYS * DAY
    rate = onset.evidence.get("rate", onset.size)
    values = {"yard": scene.yard.title, "since": voice.day(onset.onset)}
    saw = (
        say("Since about {since} the hives at {yard} lose weight although bees can fly.", **values)
        if rate is None
        else say(
            "Since about {since} {who} at {yard} loses weight although bees can fly: at first {rate} a day.",
            who=typical(scene.hives),
            rate=voice.weight(abs(rate)),
            **values,
        )
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.FOR_INFORMATION if lasting else Urgency.THIS_WEEK,
        title=say("No nectar at {yard}: leave the hives closed", **values),
        saw=saw,
        means=say(
            "{dearth} {food}",
            dearth=say(
                "This is {sure} a dearth. In summer it often lasts one or two weeks, and the bees grow defensive.",
                sure=likely(onset.confidence),
            ),
            food=_food(food),
        ).strip(),
        could_also_be=[
            say("Many foragers lost at once, by spraying for example: look for dead bees in front of the hives."),
            say("Wet hives drying out after rain."),
        ],
        do=[
            say("Open no hive without need, and harvest nothing. Leave no comb, honey or sticky tools outside."),
            *_entrances(scene, airy, None if lasting else voice.day(do_by)),
            say("Glance at the entrances in the afternoon. Fighting and dead bees mean robbers."),
        ],
        do_by=None if lasting else do_by,
        cautions=[*([cautions.heat_illness()] if airy else []), cautions.stings()],
        events=[onset],
    )


def _food(food: FoodSummary) -> str:
    if food.short:
        return say(
            "Food is short or in doubt in {hives}: see the separate note.",
            hives=listed([hive_name(h) for h in food.short]),
        )
    parts = []
    if food.fine:
        parts.append(_enough(food.fine))
    if food.guessed:
        parts.append(
            say(
                "By a guess at the empty weight of {hives} there is food for about two weeks or more.",
                hives=listed([hive_name(h) for h in food.guessed]),
            )
        )
    return " ".join([*parts, say("Do not feed them now.")]) if parts else ""


def _enough(hives: Sequence[HiveSettings]) -> str:
    return say("There is food for about two weeks or more in {hives}.", hives=listed([hive_name(h) for h in hives]))


def _entrances(scene: Scene, airy: Sequence[HiveSettings], by: str | None) -> list[str]:
    """Say what to do about entrances; `by`: the day, None once it is past."""
    closed = {h.id for h in airy}
    rest = [h for h in scene.hives if h.id not in closed]
    steps = []
    if airy:
        steps += [
            say("It is hot: air comes before a small entrance. Do not shrink the entrance over a closed floor."),
            ventilation(airy, robbers=True),
        ]
    if rest and airy:
        steps.append(_small_where_cool(listed([hive_name(h) for h in rest]), by))
    elif rest:
        steps.append(_small(by))
    return steps


def _small_where_cool(hives: str, by: str | None) -> str:
    if by is None:
        return say("Keep the entrances of {hives} small: there the floor is screened, or it is not hot.", hives=hives)
    return say(
        "By {by}, make the entrances of {hives} small: there the floor is screened, or it is not hot.",
        hives=hives,
        by=by,
    )


def _small(by: str | None) -> str:
    if by is None:
        return say("Keep the entrances small, those of weak hives two or three bees wide. The hives stay closed.")
    return say(
        "By {by}, make the entrances small, those of weak hives two or three bees wide. The hives stay closed.",
        by=by,
    )
