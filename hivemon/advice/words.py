"""Numbers, dates and names as a person says them, in the beekeeper's own units and language.

`say` is the one gate that every sentence passes. The language is that of the nearest `speaking`, English outside one;
catalogues are gettext's, `locale/<language>/LC_MESSAGES/advice.po` and `.mo`.
"""

from __future__ import annotations

import gettext
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from hivemon.config import Language
from hivemon.model import DAY, MINUTE, Millis

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from zoneinfo import ZoneInfo

    from hivemon.config import HiveSettings, UnitSettings

POUND_KG = 0.45359237
"""International avoirdupois pound, exact (NIST SP 811, appendix B)."""
QUART_LITRES = 0.946352946
"""US liquid quart, exact (NIST SP 811, appendix B: gallon 3.785411784 L)."""

FOOT_METRES = 0.3048
"""International foot, exact (NIST SP 811, appendix B)."""

LANGUAGES: tuple[Language, ...] = get_args(Language)
LOCALE = Path(__file__).parent / "locale"


def marked(text: str) -> str:
    """Return a text as it is; it is said later, and marked here for the translator."""
    return text


WEEKDAYS = (
    marked("Monday"),
    marked("Tuesday"),
    marked("Wednesday"),
    marked("Thursday"),
    marked("Friday"),
    marked("Saturday"),
    marked("Sunday"),
)
MONTHS = (
    marked("January"),
    marked("February"),
    marked("March"),
    marked("April"),
    marked("May"),
    marked("June"),
    marked("July"),
    marked("August"),
    marked("September"),
    marked("October"),
    marked("November"),
    marked("December"),
)
EVENING = time(20, 0)
"""The hour meant by "by Saturday": the bees are home, it is still light in the season."""
_SMALL = (
    marked("no"),
    marked("one"),
    marked("two"),
    marked("three"),
    marked("four"),
    marked("five"),
    marked("six"),
    marked("seven"),
    marked("eight"),
    marked("nine"),
    marked("ten"),
    marked("eleven"),
    marked("twelve"),
)
_SURE = ((0.9, marked("almost certainly")), (0.7, marked("very likely")), (0.5, marked("probably")))
_MARKS: dict[Language, tuple[str, str]] = {"en": (".", ","), "nl": (",", ".")}
"""Decimal mark and mark between thousands (Unicode CLDR)."""
_HALF_YEAR: Millis = 182 * DAY
"""Days farther off than this may be taken for those of another year. Our rule."""
_ROUND_UP_TO = 10.0
_SMALL_UNIT = 0.95
_COARSE_GRAMS = 200.0


_language: ContextVar[Language] = ContextVar("language", default="en")


@contextmanager
def speaking(language: Language) -> Iterator[None]:
    """Say everything within in this language."""
    token = _language.set(language)
    try:
        yield
    finally:
        _language.reset(token)


def spoken() -> Language:
    """Return the language that is being spoken."""
    return _language.get()


@cache
def _catalogue(language: Language) -> gettext.NullTranslations:
    """Return a language's texts. Raises FileNotFoundError when its catalogue is missing; English needs none."""
    if language == "en":
        return gettext.NullTranslations()
    return gettext.translation("advice", localedir=LOCALE, languages=[language])


def say(template: str, /, **values: str) -> str:
    """Return a sentence in the language spoken, its blanks filled in. Raises KeyError for a blank without a value."""
    return _catalogue(_language.get()).gettext(template).format(**values)


def start(sentence: str) -> str:
    """Return the same with a capital at its start."""
    return sentence[:1].upper() + sentence[1:]


def hive_name(hive: HiveSettings) -> str:
    """Return the hive's own name, or "hive o1" where it has none."""
    return hive.name or say("hive {id}", id=hive.id)


def typical(hives: Sequence[HiveSettings]) -> str:
    """Return "a typical hive", or the name of a yard's only one."""
    return hive_name(hives[0]) if len(hives) == 1 else say("a typical hive")


def listed(names: Sequence[str]) -> str:
    """Return "a", "a and b", "a, b and c"; empty for none."""
    if len(names) <= 1:
        return "".join(names)
    return say("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])


def number(value: int) -> str:
    """Return small counts as words ("two"), larger ones as digits."""
    return say(_SMALL[value]) if 0 <= value < len(_SMALL) else _grouped(value)


def decimal(value: float) -> str:
    """Return a number as said: tenths below ten, whole from there on."""
    return _person(value)


def counted(value: int, one: str, many: str) -> str:
    """Return "one super", "three supers"."""
    return f"{number(value)} {one if value == 1 else many}"


def weight(kg: float, units: UnitSettings) -> str:
    """Return a mass: whole units from 10 on, tenths below, grams or ounces below one unit."""
    pounds = units.weight == "lb"
    value = kg / POUND_KG if pounds else kg
    if abs(value) < _SMALL_UNIT:
        return _small(value, pounds=pounds)
    return f"{_person(value)} {'lb' if pounds else 'kg'}"


def weights(low_kg: float, high_kg: float, units: UnitSettings) -> str:
    """Return a range of masses, "4 to 9 kg", whole units; one number where both round alike."""
    factor, unit = (1 / POUND_KG, "lb") if units.weight == "lb" else (1.0, "kg")
    low, high = round(max(low_kg, 0.0) * factor), round(max(high_kg, 0.0) * factor)
    if low == high:
        return f"{low} {unit}"
    return say("{low} to {high} {unit}", low=f"{low}", high=f"{high}", unit=unit)


def volume(litres: float, units: UnitSettings) -> str:
    """Return a volume in litres, or in US quarts where weights are in pounds, to half a unit."""
    pounds = units.weight == "lb"
    value = max(round((litres / QUART_LITRES if pounds else litres) * 2) / 2, 0.5)
    amount = f"{value:g}".replace(".", _MARKS[_language.get()][0])
    if pounds:
        return say("{amount} quart", amount=amount) if value <= 1 else say("{amount} quarts", amount=amount)
    return say("{amount} litre", amount=amount) if value <= 1 else say("{amount} litres", amount=amount)


def distance(metres: float, units: UnitSettings) -> str:
    """Return a distance one walks: metres, or where weights are in pounds feet, to the next hundred."""
    if units.weight != "lb":
        return f"{round(metres)} m"
    return say("{feet} feet", feet=_grouped(max(round(metres / FOOT_METRES / 100), 1) * 100))


def temperature(celsius: float, units: UnitSettings) -> str:
    """Return a temperature to the whole degree."""
    return f"{round(celsius * 9 / 5 + 32)} °F" if units.temperature == "F" else f"{round(celsius)} °C"


def degrees(celsius: float, units: UnitSettings) -> str:
    """Return a difference of temperatures to the whole degree."""
    return f"{round(celsius * 9 / 5)} °F" if units.temperature == "F" else f"{round(celsius)} °C"


def bees(low: float, high: float) -> str:
    """Return a range of bees as one would guess it: two digits of each that count."""
    a, b = _two_digits(low), _two_digits(high)
    return _grouped(a) if a == b else say("{low} to {high}", low=_grouped(a), high=_grouped(b))


def days(low: float, high: float) -> str:
    """Return a span, "about a day", "9 to 14 days"."""
    a, b = max(round(low), 0), max(round(high), 0)
    if b <= 1:
        return say("about a day")
    return say("about {days} days", days=f"{b}") if a == b else say("{low} to {high} days", low=f"{a}", high=f"{b}")


def likely(confidence: float) -> str:
    """Return a confidence from 0 to 1 in a word: the same word always means the same span."""
    for least, word in _SURE:
        if confidence >= least:
            return say(word)
    return say("perhaps")


def day(when: Millis, zone: ZoneInfo) -> str:
    """Return a local date, "Saturday 6 June"."""
    local = _local(when, zone)
    return say(
        "{weekday} {day} {month}",
        weekday=say(WEEKDAYS[local.weekday()]),
        day=f"{local.day}",
        month=say(MONTHS[local.month - 1]),
    )


def day_seen_from(when: Millis, now: Millis, zone: ZoneInfo) -> str:
    """Return a local date; with its year, "Saturday 6 June 2026", where it is more than half a year from `now`."""
    if abs(when - now) <= _HALF_YEAR:
        return day(when, zone)
    return say("{day} {year}", day=day(when, zone), year=f"{_local(when, zone).year}")


def weekday(when: Millis, zone: ZoneInfo) -> str:
    """Return the local day of the week as the configuration names it, "saturday"."""
    return WEEKDAYS[_local(when, zone).weekday()].lower()


def clock(when: Millis, zone: ZoneInfo) -> str:
    """Return a local time of day to five minutes, "11:20"."""
    local = _local(round(when / (5 * MINUTE)) * 5 * MINUTE, zone)
    return f"{local.hour}:{local.minute:02d}"


def evening(when: Millis, zone: ZoneInfo, *, plus_days: float = 0) -> Millis:
    """Return eight in the evening of the local day of a moment, or of the day so many whole days after it."""
    date = _local(when, zone).date() + timedelta(days=int(plus_days))
    return int(datetime.combine(date, EVENING, tzinfo=zone).timestamp() * 1000)


def after(when: Millis, days_later: float) -> Millis:
    """Return the moment so many days of 24 hours later."""
    return when + round(days_later * DAY)


def _person(value: float) -> str:
    if abs(value) < _ROUND_UP_TO:
        return f"{round(value, 1) + 0.0:g}".replace(".", _MARKS[_language.get()][0])
    return f"{round(value)}"


def _small(value: float, *, pounds: bool) -> str:
    """Return a mass below one unit: ounces, or grams to 50 from 200 on and to 10 below."""
    if pounds:
        return f"{round(value * 16)} oz"
    grams = value * 1000
    step = 50 if abs(grams) >= _COARSE_GRAMS else 10
    return f"{round(grams / step) * step} g"


def _grouped(value: int) -> str:
    return f"{value:,}".replace(",", _MARKS[_language.get()][1])


def _two_digits(value: float) -> int:
    whole = max(round(value), 0)
    scale: int = 10 ** max(len(str(whole)) - 2, 0)
    return round(whole / scale) * scale


def _local(when: Millis, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(when / 1000, UTC).astimezone(zone)
