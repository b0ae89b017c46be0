"""Units from ranges: which unit makes these numbers what a hive, its nest or the weather can be, and how sure that is.

The ranges are biology and trade, not hardware: floor, lid and one box alone weigh 14-20 kg, and a hive in full flow
seldom passes 150 kg (common practice); a brood nest is kept at 32-36 °C (Becher & Moritz 2009) and a hive without brood
follows the weather; no air has been measured above 57 °C or below -90 °C (World Meteorological Organization).
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import Quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.config import UnitSettings
    from hivemon.recognise.names import Named


class Sureness(StrEnum):
    """How sure a proposal is: `sure` when name and range agree, `likely` when one speaks alone, `a guess` else."""

    SURE = "sure"
    LIKELY = "likely"
    GUESS = "a guess"

    @property
    def rank(self) -> int:
        """Place from the surest, which is 0."""
        return list(Sureness).index(self)


class Form(NamedTuple):
    """One way to read a number: value x scale + offset, in `unit`; `low` to `high` is what it plausibly is then."""

    unit: str
    low: float
    high: float
    scale: float = 1.0
    offset: float = 0.0
    said: str = ""
    """What the numbers are called, where that differs from the unit."""

    @property
    def title(self) -> str:
        """What a person calls it."""
        return self.said or {"Cel": "°C", "degF": "°F"}.get(self.unit, self.unit)


class Proposal(NamedTuple):
    """What a stream of numbers probably is; a device's `value x scale + offset` is then in `unit`."""

    quantity: Quantity
    form: Form
    sureness: Sureness
    why: str


_AIR = (
    Form("Cel", -40, 57),
    Form("degF", -40, 134),
    Form("Cel", 233, 330, offset=-273.15, said="kelvin"),  # 0 °C = 273.15 K exactly (SI)
)
_DAMP = (Form("%RH", 1.01, 100), Form("%RH", 0.0, 1.0, scale=100.0, said="a share of 1"))
_FORMS: dict[Quantity, tuple[Form, ...]] = {
    Quantity.WEIGHT: (Form("kg", 10, 200), Form("lb", 22, 440), Form("g", 10_000, 200_000)),
    Quantity.TEMPERATURE: (
        Form("Cel", -5, 46),
        Form("degF", 23, 115),
        Form("Cel", 268, 320, offset=-273.15, said="kelvin"),
    ),
    Quantity.OUTSIDE_TEMPERATURE: _AIR,
    Quantity.HUMIDITY: _DAMP,
    Quantity.OUTSIDE_HUMIDITY: _DAMP,
    Quantity.BATTERY: (Form("V", 1.5, 30), Form("mV", 1500, 30_000)),
    Quantity.RAIN: (Form("mm", 0, 150),),
}
_NEST = (30.0, 38.0)
"""A median in here, in °C, is a brood nest's and hardly anything else's. Our rule."""
_WHAT = {
    Quantity.WEIGHT: "what a hive weighs",
    Quantity.TEMPERATURE: "what a hive's temperature can be",
    Quantity.OUTSIDE_TEMPERATURE: "what air can have",
    Quantity.HUMIDITY: "a humidity",
    Quantity.OUTSIDE_HUMIDITY: "a humidity",
    Quantity.BATTERY: "what a battery has",
    Quantity.RAIN: "what can fall",
}
_MOST = 200_000.0
"""Weights beyond this in any unit are a bridge converter's counts: 200 kg in grams. Our rule."""

UNNAMED = "its name says no quantity, and a number alone does not tell"
COUNTS = "bare counts of a bridge converter: say whose weight it is, then `hivemon calibrate` turns them into kg"
ANSWERABLE = frozenset({UNNAMED, COUNTS})
"""Reasons for proposing nothing that a person can help with; the others stand."""


def propose(named: Named, values: NDArray[np.float64], prefers: UnitSettings, *, told: bool = False) -> Proposal | str:
    """Return what the numbers probably are, or the reason why that cannot be told.

    Args:
        named: What their names say.
        values: The numbers as they came, shape (n,), at least one, finite.
        prefers: The units a person sees; decide between kg and lb, °C and °F where both are possible.
        told: Whether a person said so; then bare counts are taken, to be calibrated.
    """
    if named.foreign:
        return f"{named.foreign!r} in its name: nothing hivemon measures"
    if named.quantity is None:
        return UNNAMED
    if reason := _no_measure(named, values):
        if not (told and reason == COUNTS):
            return reason
        why = "bare counts, set aside as impossible until `hivemon calibrate --device ... --write` has made them kg"
        return Proposal(named.quantity, _FORMS[Quantity.WEIGHT][0], Sureness.GUESS, why)
    return _choose(named, named.quantity, float(np.median(values)), prefers)


def _no_measure(named: Named, values: NDArray[np.float64]) -> str:
    """Return why a series cannot be taken whatever its unit; empty when it can."""
    if named.quantity is Quantity.WEIGHT and (named.raw or bool((np.abs(values) > _MOST).any())):
        return COUNTS
    if named.quantity is Quantity.BATTERY and 30 < float(np.median(values)) <= 100:  # noqa: PLR2004 - no volts
        return "a battery in percent: hivemon wants volts"
    rising = len(values) > 2 and bool((np.diff(values) >= 0).all()) and values[-1] > values[0] > 0  # noqa: PLR2004
    if named.quantity is Quantity.RAIN and rising:
        return "it only ever rises: a running total, where hivemon wants what fell since the last message"
    return ""


def _choose(named: Named, quantity: Quantity, middle: float, prefers: UnitSettings) -> Proposal:
    """Weigh the unit that a name says against the units that make the number plausible."""
    forms = _FORMS[quantity]
    fitting = [form for form in forms if form.low <= middle <= form.high]
    if named.unit:
        return _said(named, quantity, middle, forms, fitting)
    if not fitting:
        form = _preferred(forms, prefers)
        return Proposal(quantity, form, Sureness.GUESS, f"{middle:g} is not {_WHAT[quantity]} in any unit known here")
    if len(fitting) == 1:
        why = f"{middle:g} is {_WHAT[quantity]} in {fitting[0].title} only"
        return Proposal(quantity, fitting[0], _without_unit(quantity), why)
    if quantity is Quantity.TEMPERATURE and _NEST[0] <= middle <= _NEST[1]:
        return Proposal(quantity, fitting[0], Sureness.LIKELY, f"{middle:g} °C is a brood nest's")
    form = _preferred(tuple(fitting), prefers)
    names = " and ".join(candidate.title for candidate in fitting)
    why = f"{middle:g} could be {names} alike; {form.title} because your screens have it"
    return Proposal(quantity, form, Sureness.GUESS, why)


def _said(named: Named, quantity: Quantity, middle: float, forms: tuple[Form, ...], fitting: list[Form]) -> Proposal:
    """Judge a unit that stands in the name."""
    own = [form for form in forms if form.unit == named.unit or (named.unit == "K" and form.said == "kelvin")]
    agreed = [form for form in own if form in fitting]
    if agreed:
        why = f"its name says {agreed[0].title}, and {middle:g} is {_WHAT[quantity]}"
        return Proposal(quantity, agreed[0], Sureness.SURE, why)
    other = f"; in {fitting[0].title} it would be" if fitting else ""
    why = f"its name says {own[0].title}, but {middle:g} is not {_WHAT[quantity]}{other}"
    return Proposal(quantity, own[0], Sureness.GUESS, why)


def _without_unit(quantity: Quantity) -> Sureness:
    """Rain counters come in tips and totals too: a range alone does not make them likely."""
    return Sureness.GUESS if quantity is Quantity.RAIN else Sureness.LIKELY


def _preferred(forms: tuple[Form, ...], prefers: UnitSettings) -> Form:
    wanted = {prefers.weight, "degF" if prefers.temperature == "F" else "Cel"}
    return next((form for form in forms if form.unit in wanted), forms[0])
