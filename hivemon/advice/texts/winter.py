"""Words about winter stores and about food that ends before spring."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft, held
from hivemon.advice.food import THICK_WATER, sugar_for, syrup
from hivemon.advice.season import last_feeding
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, listed, say, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.climate import Target
    from hivemon.advice.larder import Larder
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory

_SOON_DAYS = 21
"""Nearer to the last feeding day than this, feeding is for this week. Our rule: three fillings of a feeder."""
_FIRST_KG = 2.5
"""Fondant for a first look in winter. Our rule: the usual pack."""


def stores(
    scene: Scene,
    name: str,
    target: Target,
    short: Sequence[tuple[HiveSettings, Larder]],
    unsure: Sequence[HiveSettings],
    carrying: Sequence[HiveSettings],
) -> Advisory:
    """Say which hives lack food for winter and what to give each.

    `unsure`: those whose tare is not known; `carrying`: those not judged because honey supers are on.
    """
    voice = Voice(scene)
    last = last_feeding(scene)
    by = voice.visit(last)
    near = last - scene.now <= _SOON_DAYS * DAY
    values = {"yard": scene.yard.title, "by": voice.day(by), "target": voice.weight(target.kg)}
    late = {"last": voice.day(last), "cold": voice.temperature(scene.limits.food.syrup_celsius)}
    title = (
        say("{yard}: feed for winter by {by}", **values)
        if short
        else say("{yard}: lift the hives before winter, by {by}", **values)
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.THIS_WEEK if near else Urgency.FOR_INFORMATION,
        title=title,
        saw=_saw(voice, short, unsure) + _later(carrying),
        means=say(
            "I reckon with {target} of food for the winter. After {last} it is mostly too cold: bees take little syrup "
            "below {cold} and cannot dry it.",
            **late,
            **values,
        ),
        could_also_be=[_sources(voice, target)],
        do=[
            *([say("First be sure that no honey super is on. Never feed with one on.")] if short else []),
            *[_portion(scene, voice, hive, larder, target) for hive, larder in short],
            *([_how()] if short else []),
            *([_lift(unsure)] if unsure else []),
        ],
        do_by=by,
        cautions=[*([cautions.lifting_hive()] if unsure else []), cautions.stings()],
    )


def _saw(voice: Voice, short: Sequence[tuple[HiveSettings, Larder]], unsure: Sequence[HiveSettings]) -> str:
    if not short:
        hives = listed([hive_name(h) for h in unsure])
        return say(
            "The empty weight of {hives} is not known, so I cannot tell if the food lasts all winter.", hives=hives
        )
    parts = [
        say("{hive} has about {food}", hive=hive_name(hive), food=voice.weights(larder.food.low, larder.food.high))
        for hive, larder in short
    ]
    found = start(say("{parts} of food.", parts=listed(parts)))
    if not unsure:
        return found
    others = listed([hive_name(h) for h in unsure])
    return say("{found} Of {others} I do not know the empty weight.", found=found, others=others)


def _later(carrying: Sequence[HiveSettings]) -> str:
    if not carrying:
        return ""
    names = listed([hive_name(h) for h in carrying])
    return " " + say("Not judged yet, because supers are on: {hives}.", hives=names)


def _sources(voice: Voice, target: Target) -> str:
    said = [
        say("{name}: {amount}", name=say(source.name), amount=voice.weights(source.low, source.high))
        for source in target.sources
    ]
    return say(
        "A colony may need more or less. Sources for such a climate: {sources}. Set target_kg if you know better.",
        sources="; ".join(said),
    )


def _portion(scene: Scene, voice: Voice, hive: HiveSettings, larder: Larder, target: Target) -> str:
    missing = target.kg - larder.food.mean
    batch = syrup(sugar_for(missing, scene.limits.food.stores_per_sugar), THICK_WATER)
    return start(
        say(
            "{hive} lacks about {missing}: {sugar} of white sugar in {water} of water ({litres} of syrup).",
            hive=hive_name(hive),
            missing=voice.weight(missing),
            sugar=voice.weight(batch.sugar),
            water=voice.volume(batch.water),
            litres=voice.volume(batch.litres),
        )
    )


def _how() -> str:
    return say("Give it in turns, in a feeder inside the hive, at dusk. Write each as feed, with its weight.")


def _lift(unsure: Sequence[HiveSettings]) -> str:
    return say(
        "Lift the back of {hives} a finger's width: a hive ready for winter feels nailed down. Best weigh the empty "
        "boxes once and enter tare_kg.",
        hives=listed([hive_name(h) for h in unsure]),
    )


def runs_out(scene: Scene, name: str, hive: HiveSettings, larder: Larder, lasts: float) -> Advisory:
    """Say when in winter a hive's food ends, at what it uses a week; `lasts` days from now."""
    voice = Voice(scene)
    end = scene.now + round(lasts * DAY)
    soon = scene.now + round(min(max(lasts / 3, 2.0), 10.0) * DAY)
    by = held(scene, name, voice.visit(soon, latest=end - round(scene.limits.food.starving_days * DAY)))
    values = {"hive": hive_name(hive), "by": voice.day(by), "end": voice.day(end)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive}: food may end before spring; lift it by {by}", **values)),
        saw=start(
            say(
                "{hive} has about {food} of food and uses about {use} a week.",
                food=voice.weights(larder.food.low, larder.food.high),
                use=voice.weight(7 * larder.use.mean),
                **values,
            )
        ),
        means=say("With what bees eat more when brood begins in late winter, it ends around {end}.", **values),
        could_also_be=[say("Snow or wet wood on the scale, or a colony that is larger or smaller than usual.")],
        do=[
            say("By {by}, lift the back of {hive} a finger's width. Heavy: all is well.", **values),
            say(
                "Light: on a mild day lay about {fondant} of fondant right above the cluster. No syrup in the cold.",
                fondant=voice.weight(_FIRST_KG),
            ),
            say("Lift only the lid, and close it within a minute or two."),
            say("Write feed or inspect in the logbook; I then look again in two weeks."),
        ],
        do_by=by,
        cautions=[cautions.lifting_hive()],
    )
