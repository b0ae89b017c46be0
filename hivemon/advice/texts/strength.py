"""Words about weak hives and about how many colonies to take into winter."""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING

from hivemon.advice.draft import draft, held
from hivemon.advice.season import last_feeding
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import counted, hive_name, listed, number, say, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.colonies import Plan
    from hivemon.advice.scene import Scene
    from hivemon.advice.strength import Rank
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory

_STRONG = 0.5
"""Score above which a hive can give bees or brood away. Our rule."""
_BEHIND_KG, _LOOSE_CELSIUS, _FEW_KG = 0.05, 0.5, 0.05
"""Differences worth a word: gain kg a day, swing °C, bees out kg. Our rule."""


def weak(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    rank: Rank,
    ranks: Sequence[Rank],
    *,
    looked: bool,
) -> Advisory:
    """Say that a hive falls behind its neighbours, and what can be done from midsummer on; `looked`: he has seen it."""
    voice = Voice(scene)
    by = held(scene, name, voice.visit(scene.now + 14 * DAY))
    values = {"hive": hive_name(hive), "by": voice.day(by), "winter": voice.day(last_feeding(scene))}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION if looked else Urgency.THIS_WEEK,
        title=start(
            say("{hive} still falls behind: help it or unite it before {winter}", **values)
            if looked
            else say("{hive} falls behind: look at it by {by}", **values)
        ),
        saw=_saw(voice, hive, rank, ranks) + _strongest(scene, ranks),
        means=say("A colony that is small now seldom gets through winter alone. The sooner it is helped, the better."),
        could_also_be=[
            say("Mites, a failing queen or disease. Count mites and look for eggs before you decide."),
            say("It is a young colony or split that is still growing; then wait."),
        ],
        do=[
            *(
                []
                if looked
                else [
                    say(
                        "On a warm day by {by}, look in {hive}: are there eggs, and is the brood even and healthy?",
                        **values,
                    )
                ]
            ),
            say("A poor queen in a healthy hive: give a new one."),
            say("Healthy but small: add one or two frames of capped brood from a strong hive."),
            say("Too small even so: unite it with a strong hive. Never unite a sick colony with a sound one."),
            say("Write inspect, requeen or combine in the logbook, whichever it was."),
        ],
        do_by=None if looked else by,
        cautions=[cautions.disease(), cautions.stings()],
    )


def _saw(voice: Voice, hive: HiveSettings, rank: Rank, ranks: Sequence[Rank]) -> str:
    """Say in what it falls behind: of the three comparisons those that tell."""
    gains = [r.gain for r in ranks if r.gain is not None]
    swings = [r.swing for r in ranks if r.swing is not None]
    dips = [r.dip for r in ranks if r.dip is not None]
    found = []
    if rank.gain is not None and rank.gain < statistics.median(gains) - _BEHIND_KG:
        less = voice.weight(statistics.median(gains) - rank.gain)
        found.append(say("it gains {less} a day less than a typical hive here", less=less))
    if rank.dip is not None and rank.dip < statistics.median(dips) - _FEW_KG:
        found.append(say("fewer bees fly out in the morning"))
    if rank.swing is not None and rank.swing > statistics.median(swings) + _LOOSE_CELSIUS:
        found.append(say("its brood nest is less steady"))
    if not found:
        return say("In the last two weeks {hive} was a little behind the others in everything.", hive=hive_name(hive))
    return say("In the last two weeks {hive} fell behind: {how}.", hive=hive_name(hive), how=listed(found))


def _strongest(scene: Scene, ranks: Sequence[Rank]) -> str:
    """Name the strongest hive, which can give brood; nothing when none stands out."""
    best = next((h for h in scene.hives if h.id == ranks[0].hive and ranks[0].score > _STRONG), None)
    return " " + say("The strongest here is {hive}.", hive=hive_name(best)) if best else ""


def colonies(scene: Scene, name: str, plan: Plan) -> Advisory:
    """Say how many colonies to take into winter to have those wanted in spring."""
    voice = Voice(scene)
    by = held(scene, name, voice.visit(scene.now + 14 * DAY))
    lost = f"{round(plan.loss * 100)}"
    values = {
        "yard": scene.yard.title,
        "have": counted(plan.have, say("colony"), say("colonies")),
        "wanted": number(plan.wanted),
        "lost": lost,
        "chance": f"{round(plan.chance * 100)}",
        "target": f"{round(plan.target * 100)}",
    }
    enough = (
        say("No yard is large enough to be that sure.")
        if plan.needed is None
        else say("For a chance of {target} in 100, take {needed} into winter.", needed=number(plan.needed), **values)
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.FOR_INFORMATION,
        title=say("{yard}: how many colonies go into winter?", **values),
        saw=say("There are {have} at {yard}. You want {wanted} next spring.", **values),
        means=say(
            "If {lost} of 100 are lost in winter, the chance of having {wanted} is about {chance} in 100. {enough}",
            enough=enough,
            **values,
        ),
        could_also_be=[
            say("Yearly surveys tell of 20 to 40 lost in 100. Three of four alive is a good result."),
        ],
        do=[
            say("If you want more, split strong, healthy hives by {by}: later splits stay small.", by=voice.day(by)),
            say("Unite weak ones rather than count on them."),
            say("Set spring_colonies and expected_loss in the configuration if yours are other."),
        ],
        do_by=by,
    )
