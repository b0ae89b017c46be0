"""Numbers, dates and names as a person says them, in the beekeeper's own units.

`say` is the one gate that every sentence passes, so that a translation needs to be hooked in at one place only.
"""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING

from hivemon.model import DAY, MINUTE, Millis

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from hivemon.config import HiveSettings, UnitSettings

POUND_KG = 0.45359237
"""International avoirdupois pound, exact (NIST SP 811, appendix B)."""
QUART_LITRES = 0.946352946
"""US liquid quart, exact (NIST SP 811, appendix B: gallon 3.785411784 L)."""

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
EVENING = time(20, 0)
"""The hour meant by "by Saturday": the bees are home, it is still light in the season."""
_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_ROUND_UP_TO = 10.0
_SMALL_UNIT = 0.95
_COARSE_GRAMS = 200.0


def say(template: str, /, **values: str) -> str:
    """Return a sentence with its blanks filled in. Raises KeyError for a blank without a value."""
    return template.format(**values)


def start(sentence: str) -> str:
    """Return the same with a capital at its start."""
    return sentence[:1].upper() + sentence[1:]


def hive_name(hive: HiveSettings) -> str:
    """Return the hive's own name, or "hive o1" where it has none."""
    return hive.name or f"hive {hive.id}"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return "a", "a and b", "a, b and c"; empty for none."""
    if len(names) <= 1:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def number(value: int) -> str:
    """Return small counts as words ("two"), larger ones as digits."""
    return _SMALL[value] if 0 <= value < len(_SMALL) else f"{value:,}"


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
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def volume(litres: float, units: UnitSettings) -> str:
    """Return a volume in litres, or in US quarts where weights are in pounds, to half a unit."""
    pounds = units.weight == "lb"
    value = max(round((litres / QUART_LITRES if pounds else litres) * 2) / 2, 0.5)
    unit = "quart" if pounds else "litre"
    return f"{value:g} {unit}{'' if value <= 1 else 's'}"


def temperature(celsius: float, units: UnitSettings) -> str:
    """Return a temperature to the whole degree."""
    return f"{round(celsius * 9 / 5 + 32)} °F" if units.temperature == "F" else f"{round(celsius)} °C"


def degrees(celsius: float, units: UnitSettings) -> str:
    """Return a difference of temperatures to the whole degree."""
    return f"{round(celsius * 9 / 5)} °F" if units.temperature == "F" else f"{round(celsius)} °C"


def bees(low: float, high: float) -> str:
    """Return a range of bees as one would guess it: two digits of each that count."""
    a, b = _two_digits(low), _two_digits(high)
    return f"{a:,}" if a == b else f"{a:,} to {b:,}"


def days(low: float, high: float) -> str:
    """Return a span, "about a day", "9 to 14 days"."""
    a, b = max(round(low), 0), max(round(high), 0)
    if b <= 1:
        return "about a day"
    return f"about {b} days" if a == b else f"{a} to {b} days"


def likely(confidence: float) -> str:
    """Return a confidence from 0 to 1 in a word: the same word always means the same span."""
    for least, word in ((0.9, "almost certainly"), (0.7, "very likely"), (0.5, "probably")):
        if confidence >= least:
            return word
    return "perhaps"


def day(when: Millis, zone: ZoneInfo) -> str:
    """Return a local date, "Saturday 6 June"."""
    local = _local(when, zone)
    return f"{WEEKDAYS[local.weekday()]} {local.day} {MONTHS[local.month - 1]}"


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
        return f"{round(value, 1) + 0.0:g}"
    return f"{round(value)}"


def _small(value: float, *, pounds: bool) -> str:
    """Return a mass below one unit: ounces, or grams to 50 from 200 on and to 10 below."""
    if pounds:
        return f"{round(value * 16)} oz"
    grams = value * 1000
    step = 50 if abs(grams) >= _COARSE_GRAMS else 10
    return f"{round(grams / step) * step} g"


def _two_digits(value: float) -> int:
    whole = max(round(value), 0)
    scale: int = 10 ** max(len(str(whole)) - 2, 0)
    return round(whole / scale) * scale


def _local(when: Millis, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(when / 1000, UTC).astimezone(zone)
