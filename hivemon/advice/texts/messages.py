"""Words of the morning note, of messages, and about the channels they go over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import short_names
from hivemon.advice.overdue import is_told, names_day, told_now
from hivemon.advice.words import (
    clock,
    counted,
    day,
    day_seen_from,
    hive_name,
    listed,
    number,
    say,
    start,
    typical,
    weight,
)
from hivemon.model import Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from hivemon.config import HiveSettings, UnitSettings, YardSettings
    from hivemon.model import Advisory, Millis


def moment(when: Millis, zone: ZoneInfo) -> str:
    """Return "Saturday 6 June, 11:20"."""
    return say("{day}, {clock}", day=day(when, zone), clock=clock(when, zone))


# -- the morning note -------------------------------------------------------------------------------------------------


def note_title(yard: YardSettings, now: Millis, needs: int) -> str:
    """Return the line a telephone shows: the yard, the day, and whether anything needs the beekeeper."""
    values = {"yard": yard.title, "day": day(now, yard.zone)}
    if not needs:
        return say("{yard}, {day}: nothing needs you today", **values)
    if needs == 1:
        return say("{yard}, {day}: one thing needs you", **values)
    return say("{yard}, {day}: {count} things need you", count=number(needs), **values)


def calm(*, quiet_week: bool) -> str:
    """Say that nothing needs the beekeeper today."""
    if quiet_week:
        return say("Nothing needs you today. Leave the bees alone, and enjoy them.")
    return say("Nothing needs you today.")


def heading_needs() -> str:
    """Return the heading above what needs the beekeeper."""
    return say("What needs you:")


def heading_week() -> str:
    """Return the heading above what to expect."""
    return say("This week:")


def item(advisory: Advisory, now: Millis, zone: ZoneInfo, *, step: bool) -> str:
    """Return one advisory in a line: title, first step, and by when where neither says so and it is not today."""
    advisory = told_now(advisory, now, zone)
    parts = [advisory.title if advisory.title.endswith((".", "?", "!")) else f"{advisory.title}."]
    if step and advisory.do:
        parts.append(advisory.do[0])
    if advisory.do_by is not None:
        by, today = day(advisory.do_by, zone), day(now, zone)
        told = any(names_day(part, advisory.do_by, zone) for part in parts)
        late = advisory.do_by < now and advisory.urgency is not Urgency.NOW
        if by != today and (late or not told) and not is_told(parts[0]):
            parts.append(_due(day_seen_from(advisory.do_by, now, zone), told=told, late=late))
    return " ".join(parts)


def _due(by: str, *, told: bool, late: bool) -> str:
    """Say by when, or since when it is late; `told`: the day was said already."""
    if told:
        return say("Overdue.")
    return say("It was due on {day}.", day=by) if late else say("See to it by {day}.", day=by)


def away_then(first: Millis, zone: ZoneInfo) -> str:
    """Say that a day falls into the beekeeper's holiday; `first`: its first day."""
    return say("You are away from {day}: see to it before, or ask someone near.", day=day(first, zone))


def more(count: int) -> str:
    """Say how many were left out of a list, and where they are."""
    return say("And {count} more: see `hivemon advice`.", count=number(count))


def silent(hives: Sequence[HiveSettings], since: Millis | None, now: Millis, zone: ZoneInfo, *, everyone: bool) -> str:
    """Say which hives have not been heard of; `since`: the newest reading of any of them, None when there is none."""
    names = say("any hive") if everyone else listed([hive_name(hive) for hive in hives])
    one = len(hives) == 1
    values = {"names": names, "doing": say("how it is doing") if one else say("how they are doing")}
    if since is None:
        return say("No readings from {names} yet. I cannot tell {doing}.", **values)
    return say(
        "No readings from {names} since {since}. I cannot tell {doing}. Look at battery and network.",
        since=say("{day}, {clock}", day=day_seen_from(since, now, zone), clock=clock(since, zone)),
        **values,
    )


def flow_on(rate: float | None, hives: Sequence[HiveSettings], units: UnitSettings) -> str:
    """Say that nectar is coming in; `rate` kg a day in a typical one of `hives`, None when unknown."""
    if rate is None:
        return say("Nectar is coming in.")
    return say("Nectar is coming in: about {rate} a day in {who}.", rate=weight(rate, units), who=typical(hives))


def dearth_on() -> str:
    """Say that no nectar is coming in."""
    return say("No nectar is coming in. Leave the hives closed, and nothing sweet outside.")


def fine(hives: Sequence[HiveSettings], total: int, *, names: bool) -> str:
    """Say who is fine, by name or, in a large yard, by number."""
    if len(hives) == total == 2:  # noqa: PLR2004 - a pair
        return say("Both hives are fine.")
    if len(hives) == total > 1:
        return say("All {count} hives are fine.", count=number(total))
    if names or len(hives) == 1:
        return say("Fine: {names}.", names=listed([hive_name(hive) for hive in hives]))
    return say("The other {count} hives are fine.", count=number(len(hives)))


# -- a message of its own ---------------------------------------------------------------------------------------------


def message_title(advisory: Advisory, place: str) -> str:
    """Return the line a telephone shows of an advisory that has a message of its own."""
    values = {"yard": place, "title": advisory.title}
    if advisory.urgency is Urgency.NOW:
        return say("{yard}, now: {title}", **values)
    return say("{yard}, today: {title}", **values)


def message_text(advisory: Advisory, zone: ZoneInfo, *, answerable: bool = True) -> str:
    """Return an advisory as short paragraphs, with how to answer it where it can be."""
    lines = [text for text in (advisory.saw, advisory.means) if text]
    if advisory.could_also_be:
        lines += ["", say("It could also be:"), *(f"- {other}" for other in advisory.could_also_be)]
    if advisory.do:
        by = advisory.do_by
        head = say("Do:") if by is None else say("Do, by {moment}:", moment=moment(by, zone))
        lines += ["", head, *(f"{count}. {step}" for count, step in enumerate(advisory.do, start=1))]
    if advisory.cautions:
        lines += ["", *(say("Take care: {caution}", caution=caution) for caution in advisory.cautions)]
    lines += ["", say("Said {moment}.", moment=moment(advisory.updated, zone))]
    if answerable:
        (short,) = short_names([advisory.id]).values()
        lines.append(say("Answer on the machine: hivemon answer {id} seen (or done, or wrong)", id=short))
    return "\n".join(lines)


def bundle_title(place: str, count: int) -> str:
    """Return the line a telephone shows of several things for today that arose together."""
    return say("{yard}, today: {count} things for you", yard=place, count=number(count))


def bundle_text(advisories: Sequence[Advisory], zone: ZoneInfo) -> str:
    """Return several advisories one after the other, each under its title."""
    return "\n\n\n".join(f"{a.title}\n{'-' * len(a.title)}\n{message_text(a, zone)}" for a in advisories)


def end_title(advisory: Advisory, place: str, *, reworded: bool) -> str:
    """Return the line a telephone shows of an alarm that has turned out otherwise."""
    values = {"yard": place, "title": advisory.title}
    return say("{yard}: {title}", **values) if reworded else say("{yard}, taken back: {title}", **values)


def end_text(advisory: Advisory, zone: ZoneInfo, *, reworded: bool) -> str:
    """Return what became of an alarm: its closing words, or that it no longer follows from the readings."""
    if reworded:
        return message_text(advisory, zone, answerable=False)
    return say("This no longer follows from the readings. You need not do anything about it.")


# -- about the channels themselves ------------------------------------------------------------------------------------


def trouble_title(channel: str) -> str:
    """Say that a channel does not work."""
    return say("The channel {name} does not work", name=channel)


def trouble_saw(channel: str, since: Millis, zone: ZoneInfo, detail: str) -> str:
    """Say since when, and what it answers; `detail` holds no secret."""
    values = {"name": channel, "since": moment(since, zone), "detail": detail}
    return start(say("{name} has not worked since {since}: {detail}.", **values))


def trouble_means(waiting: int) -> str:
    """Say what that costs."""
    waits = counted(waiting, say("message waits"), say("messages wait"))
    return say("{waits} for it. Nothing is lost: they go out when it works again.", waits=start(waits))


def trouble_do(channel: str) -> list[str]:
    """Say what to do about it."""
    return [
        say("Look at its address and password, and at the network."),
        say("Try it with: hivemon channels --test --channel {name}", name=channel),
    ]


def trial_title() -> str:
    """Return the title of a test message."""
    return say("hivemon: a test message")


def trial_text(channel: str, now: Millis, zone: ZoneInfo) -> str:
    """Return the text of a test message."""
    return say(
        "This is a test of the channel {name}, written {moment}. It works. Nothing needs you.",
        name=channel,
        moment=moment(now, zone),
    )
