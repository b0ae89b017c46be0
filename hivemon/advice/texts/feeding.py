"""Words about food: feed, look first, or leave the honey on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft, held
from hivemon.advice.food import THIN_WATER, Syrup, settled_mass, sugar_for, syrup
from hivemon.advice.season import broodless
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import days, hive_name, say, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from hivemon.advice.dearth import FeedReason, FeedVerdict
    from hivemon.advice.decision import Decision
    from hivemon.advice.larder import Larder
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Millis

_DAYS_OF_FOOD = 14.0
"""An emergency feed should carry them this long: a dearth often lasts one or two weeks (common practice)."""
_NEXT_TO_NOTHING_KG = 0.5
"""Less food than this is as good as none. Our rule."""
_MOST_SUGAR_KG = 5.0
"""Sugar in one feed; more is given in turns. Our rule: given as syrup in two or three fillings of an inside feeder."""
_MOST_FONDANT_KG = 2.5
"""Fondant in one block; the next when it is nearly eaten. Our rule: the usual pack."""


def food(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    larder: Larder,
    decision: Decision[FeedVerdict, FeedReason],
) -> Advisory:
    """Say what to do about a hive that is short of food."""
    if decision.verdict.value == "keep-honey":
        return _keep_honey(scene, name, hive, larder)
    if decision.verdict.value == "look":
        return _look(scene, name, hive, larder, supers=decision.reason.value == "supers-unsure")
    return _feed(scene, name, hive, larder, starving=decision.reason.value == "starving")


def _saw(voice: Voice, hive: HiveSettings, larder: Larder) -> str:
    values = {"hive": hive_name(hive), "food": voice.weights(larder.food.low, larder.food.high)}
    if larder.food.mean <= 0 and not larder.tare_known:
        return start(say("{hive} weighs no more than I would expect of such a hive without food.", **values))
    if larder.food.high < _NEXT_TO_NOTHING_KG:
        return start(say("By its weight {hive} has next to no food left.", **values))
    return start(
        say(
            "By its weight {hive} has about {food} of food. It uses about {use} a day.",
            use=voice.weight(larder.use.mean),
            **values,
        ),
    )


def _doubt(larder: Larder) -> list[str]:
    many = say("A very small or very large colony: I count on usual numbers of bees and brood.")
    if larder.tare_known:
        return [many]
    return [say("I had to guess what the empty hive weighs. Enter it in the configuration as tare_kg."), many]


def _feed(scene: Scene, name: str, hive: HiveSettings, larder: Larder, *, starving: bool) -> Advisory:
    voice = Voice(scene)
    tonight = voice.evening(scene.now)
    soon = voice.evening(scene.now, plus=min(3, max(int(larder.lasts.expected) - 2, 1)))
    by = tonight if starving else held(scene, name, voice.visit(soon, latest=_cannot_wait(scene, larder)))
    values = {"hive": hive_name(hive), "by": voice.day(by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.NOW if starving else Urgency.THIS_WEEK,
        title=start(
            say("{hive} is about to starve: feed it by {by}", **values)
            if starving
            else say("{hive} is short of food: feed it by {by}", **values)
        ),
        saw=_saw(voice, hive, larder),
        means=_lasts(larder),
        could_also_be=_doubt(larder),
        do=[
            say("First be sure that no honey super is on. Never feed with one on."),
            *_portion(scene, voice, hive, larder),
            say("Write it in the logbook as feed, with the weight."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )


def _cannot_wait(scene: Scene, larder: Larder) -> Millis:
    """Return when food is left for so few days that a visiting day is waited for no longer."""
    return scene.now + round(max(larder.lasts.expected - scene.limits.food.starving_days, 0.0) * DAY)


def _lasts(larder: Larder) -> str:
    expected = days(larder.lasts.expected, larder.lasts.expected)
    worst = days(larder.lasts.short, larder.lasts.short)
    if worst == expected:
        return say("That lasts {expected}. No nectar comes in that would make up for it.", expected=expected)
    return say(
        "That lasts {expected}, at worst {worst}. No nectar comes in that would make up for it.",
        expected=expected,
        worst=worst,
    )


def _portion(scene: Scene, voice: Voice, hive: HiveSettings, larder: Larder) -> list[str]:
    """Say what to feed, how much and where."""
    limits = scene.limits.food
    need = max(limits.comfortable_kg - larder.food.mean, _DAYS_OF_FOOD * larder.use.mean)
    cold = broodless(scene) or (scene.outside_celsius is not None and scene.outside_celsius < limits.syrup_celsius)
    most = _MOST_FONDANT_KG if cold else _MOST_SUGAR_KG
    sugar = min(max(sugar_for(need, limits.stores_per_sugar), 1.0), most)
    values = {"hive": hive_name(hive), "sugar": voice.weight(sugar)}
    if cold:
        return [
            say(
                "It is too cold for syrup. Lay about {sugar} of fondant or damp white sugar right "
                "above the cluster of {hive}.",
                **values,
            ),
            say("Lift only the lid, and close it again within a minute or two."),
        ]
    batch = syrup(sugar, THIN_WATER)
    return [
        say(
            "Give {hive} syrup of {sugar} white sugar in {water} of water ({litres} of syrup). Let it cool first.",
            water=voice.volume(batch.water),
            litres=voice.volume(batch.litres),
            **values,
        ),
        say(
            "Use a feeder inside the hive, above the brood, and fill it at dusk. If it does not hold "
            "all, give it in turns."
        ),
        say("Spill nothing, and keep the entrance small unless it is hot."),
        dries(voice, batch),
    ]


def dries(voice: Voice, batch: Syrup) -> str:
    """Say what the scale will do after a feed, so that nobody takes it for hunger or robbers."""
    return say(
        "The scale first shows all {all} of it, then {dry} or more less within days as the water dries off.",
        all=voice.weight(batch.mass),
        dry=voice.weight(batch.mass - settled_mass(batch.sugar)),
    )


def _look(scene: Scene, name: str, hive: HiveSettings, larder: Larder, *, supers: bool) -> Advisory:
    voice = Voice(scene)
    soon = larder.lasts.expected < scene.limits.food.starving_days
    wanted = voice.evening(scene.now, plus=1 if soon else 3)
    by = held(scene, name, voice.visit(wanted, latest=_cannot_wait(scene, larder)))
    values = {"hive": hive_name(hive), "by": voice.day(by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive} may be short of food: lift it by {by}", **values)),
        saw=_saw(voice, hive, larder),
        means=say("That may be too little, but I am not sure enough to ask for feeding."),
        could_also_be=_doubt(larder),
        do=[
            say(
                "By {by}, lift the back of {hive} a finger's width. "
                "Light as an empty box means hunger; heavy means all is well.",
                **values,
            ),
            *([_still_on(hive)] if supers else [_thin_look()]),
            say("Write inspect in the logbook; I then stop asking.")
            if not supers
            else say("Write super-off in the logbook if none is on; I then say how much to feed."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )


def _thin_look() -> str:
    return say("If it is light, lift the lid at the edge: with less than two combs of honey they need food.")


def _still_on(hive: HiveSettings) -> str:
    return say(
        "See whether a honey super stayed on {hive} at the harvest. Never feed with one on.", hive=hive_name(hive)
    )


def _keep_honey(scene: Scene, name: str, hive: HiveSettings, larder: Larder) -> Advisory:
    voice = Voice(scene)
    by = held(scene, name, voice.visit(voice.evening(scene.now, plus=3), latest=_cannot_wait(scene, larder)))
    values = {"hive": hive_name(hive), "by": voice.day(by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive} has little food: leave it the honey it has", **values)),
        saw=_saw(voice, hive, larder),
        means=say(
            "There is little in the hive, in brood boxes and supers together, and honey supers are on. Syrup would end "
            "up in the honey."
        ),
        could_also_be=_doubt(larder),
        do=[
            say("Harvest nothing from {hive}. What is in the supers is their food now.", **values),
            say(
                "By {by}, on a mild evening, see whether the supers hold honey. Empty ones can come "
                "off; write super-off in "
                "the logbook, and I work the food out anew.",
                **values,
            ),
            say("If they are off already, write super-off in the logbook."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )
