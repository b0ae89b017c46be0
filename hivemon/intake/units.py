"""Units at the edge: everything inside is kg, °C, %RH, V and mm.

Constants are exact by definition: the international avoirdupois pound is 0.45359237 kg (United States and Commonwealth
agreement of 1959, NIST Special Publication 811), °C = (°F - 32) x 5/9 (same source). `g` is in the SenML units
registry, `mV` and `mm` are secondary units of RFC 8798; `lb` and `degF` are no SenML units and only taken through a
device map.
"""

from __future__ import annotations

from hivemon.errors import Unusable
from hivemon.model import UNITS, Quantity

KG_PER_POUND = 0.45359237

_LINEAR: dict[tuple[str, str], tuple[float, float]] = {
    # (from, to): value x factor / divisor, two whole steps so that 250 g is 0.25 kg to the last bit
    ("g", "kg"): (1.0, 1000.0),
    ("lb", "kg"): (KG_PER_POUND, 1.0),
    ("mV", "V"): (1.0, 1000.0),
}
SENML_UNITS = frozenset({"kg", "g", "Cel", "%RH", "V", "mV", "mm"})
"""Units that may stand in a SenML record (RFC 8428 and 8798)."""
LIMITS: dict[Quantity, tuple[float, float]] = {
    Quantity.WEIGHT: (-50.0, 500.0),
    Quantity.TEMPERATURE: (-130.0, 150.0),
    Quantity.HUMIDITY: (-5.0, 110.0),
    Quantity.BATTERY: (0.0, 60.0),
    Quantity.OUTSIDE_TEMPERATURE: (-130.0, 150.0),
    Quantity.OUTSIDE_HUMIDITY: (-5.0, 110.0),
    Quantity.RAIN: (0.0, 500.0),
}
"""What a sensor can say at all, in own units; beyond lies a broken message. Wide on purpose (our rule): a sensor's
known wrong values (85 °C, -127 °C) must come through, since a sensor fault is judged from them."""


def to_own_unit(value: float, unit: str, quantity: Quantity) -> float:
    """Convert to the unit the quantity is kept in; an empty unit means that unit. Raises Unusable for any other."""
    own = UNITS[quantity]
    if unit in ("", own):
        return value
    if unit == "degF" and own == "Cel":
        return (value - 32.0) * 5.0 / 9.0
    linear = _LINEAR.get((unit, own))
    if linear is None:
        raise Unusable(f"{quantity.value} in {unit!r} is not understood: it is wanted in {own!r}")
    return value * linear[0] / linear[1]


def can_convert(unit: str, quantity: Quantity) -> bool:
    """Tell whether `to_own_unit` knows the way."""
    own = UNITS[quantity]
    return unit in ("", own) or (unit == "degF" and own == "Cel") or (unit, own) in _LINEAR


def check_limits(value: float, quantity: Quantity) -> None:
    """Raise Unusable for a value no sensor of that quantity can mean (own unit); not a number is refused too."""
    low, high = LIMITS[quantity]
    if not low <= value <= high:
        unit = UNITS[quantity]
        raise Unusable(f"{quantity.value} {value:g} {unit} is impossible: from {low:g} to {high:g} {unit} is taken")
