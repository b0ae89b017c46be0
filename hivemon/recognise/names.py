"""What the names of topics, JSON keys and columns say: the quantity, the unit, inside or outside, or none of ours.

Words of English, Dutch, German, French, Spanish and Italian as sensors and spreadsheets bear them; common practice.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_WORDS: dict[Quantity, str] = {
    Quantity.WEIGHT: "weight mass scale load gewicht weegschaal waage masse poids balance peso bilancia bascula",
    Quantity.TEMPERATURE: "temperature temp tmp t thermometer temperatuur temperatur temperatura celsius fahrenheit",
    Quantity.HUMIDITY: "humidity hum rh moisture vocht luchtvochtigheid vochtigheid feuchte luftfeuchte "
    "luftfeuchtigkeit feuchtigkeit humidite humedad umidita",
    Quantity.BATTERY: "battery bat batt vbat vbatt voltage volt volts batterij accu akku batterie bateria batteria",
    Quantity.RAIN: "rain rainfall precipitation precip regen neerslag niederschlag pluie lluvia pioggia",
}
_QUANTITIES = {word: quantity for quantity, words in _WORDS.items() for word in words.split()}
_UNIT_WORDS = {
    "kg": "kg kilo kilogram kilograms kilogramm kgs",
    "g": "g gram grams gramm gr",
    "lb": "lb lbs pound pounds",
    "Cel": "°c c celsius cel degc",
    "degF": "°f f fahrenheit degf",
    "K": "k kelvin",
    "%RH": "% percent pct rh %rh",
    "V": "v volt volts",
    "mV": "mv millivolt millivolts",
    "mm": "mm",
}
_UNITS = {word: unit for unit, words in _UNIT_WORDS.items() for word in words.split()}
_ONLY = {
    # a unit that gives the quantity away where no word does
    "kg": Quantity.WEIGHT,
    "g": Quantity.WEIGHT,
    "lb": Quantity.WEIGHT,
    "Cel": Quantity.TEMPERATURE,
    "degF": Quantity.TEMPERATURE,
    "%RH": Quantity.HUMIDITY,
    "V": Quantity.BATTERY,
    "mV": Quantity.BATTERY,
    "mm": Quantity.RAIN,
}
_FITTING: dict[Quantity, frozenset[str]] = {
    Quantity.WEIGHT: frozenset({"kg", "g", "lb"}),
    Quantity.TEMPERATURE: frozenset({"Cel", "degF", "K"}),
    Quantity.HUMIDITY: frozenset({"%RH"}),
    Quantity.BATTERY: frozenset({"V", "mV"}),
    Quantity.RAIN: frozenset({"mm"}),
}
_OUTSIDE = _set(
    "outside outdoor outdoors out ambient weather air external ext exterior buiten aussen wetter weer exterieur "
    "meteo shade"
)
_INSIDE = _set("inside inner indoor in internal brood nest int interior binnen innen interieur broodnest")
_NOT_OURS = _set(
    "rssi snr uptime seq sequence counter count version id lat lon lng latitude longitude altitude pressure "
    "baro hpa pa lux light co2 voc sound noise db freq frequency dew dewpoint heatindex channel port retries index "
    "interval wind gust speed direction solar uv"
)
_OUTSIDE_OF = {
    Quantity.TEMPERATURE: Quantity.OUTSIDE_TEMPERATURE,
    Quantity.HUMIDITY: Quantity.OUTSIDE_HUMIDITY,
}
_RAW = _set("raw adc counts")
_PIECE = re.compile(r"%rh|mV(?![a-z])|°[cfCF]|%|[A-Z]+(?![a-z])|[A-Za-z][a-z]*|\d+", re.ASCII)


class Named(NamedTuple):
    """What names say: `quantity` None where they say none, `unit` as in `[[device]]` (or K), empty where none is said.

    A quantity of the yard's is one whose names speak of the outside. `raw` says it is a converter's bare counts,
    `foreign` is the word that says it is nothing hivemon measures.
    """

    quantity: Quantity | None
    unit: str
    raw: bool
    foreign: str


def pieces(name: str) -> list[str]:
    """Split a name into lower-case words: `tempBrood_C`, `Gewicht (kg)` and `T °F` at their seams, accents taken off.

    A single letter with a number behind it is left out: `h1` is a hive far more often than a humidity.
    """
    plain = "".join(
        sign if sign == "°" else unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
        for sign in name.replace("º", "°").replace("ß", "ss")
    )
    plain = re.sub(r"(?<![A-Za-z°])[A-Za-z](?=\d)", "", plain)
    return [found.lower() for found in re.findall(_PIECE, plain)]


def read_names(names: Sequence[str]) -> Named:
    """Read what names say, the nearest last (parts of a topic, then keys of its JSON; or a column's heading).

    The nearer count for more; single letters count in the nearest alone, and so do words of foreign quantities.
    """
    nearest = pieces(names[-1]) if names else []
    words = [word for name in names[:-1] for word in pieces(name) if len(word) > 1 or word == "%"] + nearest
    back = words[::-1]
    by = next((word for word in back if word in _QUANTITIES), "")
    quantity = _QUANTITIES.get(by)
    fitting = _FITTING[quantity] if quantity is not None else frozenset(_ONLY)
    unit = next((_UNITS[word] for word in back if _UNITS.get(word) in fitting), "")
    if quantity is None and unit:
        quantity, by = _ONLY[unit], next(word for word in back if _UNITS.get(word) == unit)
    outside, inside = bool(_OUTSIDE & set(words)), bool(_INSIDE & set(words))
    if quantity is not None and outside and not inside:
        quantity = _OUTSIDE_OF.get(quantity, quantity)
    foreign = next((word for word in nearest if word in _NOT_OURS), "")
    return Named(quantity, unit, bool(_RAW & set(nearest)), foreign)
