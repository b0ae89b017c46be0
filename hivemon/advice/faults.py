"""Which sensors are known to lie now. Sensors' own advice and every decision that needs a sensor ask here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import DAY, Entry, Event, Kind, Quantity

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene

_HEALTHY_COVERAGE = 0.5
"""Share of a day's hours with a reading from which a scale that was silent speaks again. Our rule."""


def quantity_of(event: Event) -> Quantity | None:
    """Return the quantity whose sensor an event's reason names ("weight-stuck"), None when it names none."""
    for quantity in Quantity:
        if event.reason == quantity.value or event.reason.startswith(f"{quantity.value}-"):
            return quantity
    return None


def problem_of(event: Event) -> str:
    """Return what is wrong with the sensor: the part of the reason after the quantity ("stuck")."""
    quantity = quantity_of(event)
    return event.reason.removeprefix(quantity.value).lstrip("-") if quantity else event.reason


def standing_faults(scene: Scene) -> list[Event]:
    """Return the faults worth a word: not known to be over, and not told too long ago."""
    oldest = scene.now - scene.limits.sensors.fault_days * DAY
    return [e for e in scene.find(Kind.SENSOR_FAULT) if e.raised >= oldest and not _over(scene, e)]


def _over(scene: Scene, fault: Event) -> bool:
    """Whether a fault is known to be over: its evidence has `until_ms`, the scale was reset since, or it mended."""
    if "until_ms" in fault.evidence:
        return True
    if fault.hive is None or quantity_of(fault) is not Quantity.WEIGHT:
        return False
    if scene.entries(fault.hive, Entry.SCALE_RESET, since=fault.onset):
        return True
    # A silent scale that speaks again for a whole day has mended itself; a stuck one never stopped speaking.
    speaks = any(d.coverage >= _HEALTHY_COVERAGE for d in scene.whole_days(fault.hive, since=fault.raised))
    return problem_of(fault) == "silent" and speaks


def is_faulty(scene: Scene, hive: str, quantity: Quantity) -> bool:
    """Whether a hive's sensor for a quantity is known to lie, however long ago that was told."""
    lying = (e for e in scene.find(Kind.SENSOR_FAULT, hive=hive) if quantity_of(e) is quantity)
    return any(not _over(scene, e) for e in lying)


def scale_ok(scene: Scene, hive: str) -> bool:
    """Whether a hive's weights can be believed."""
    return not is_faulty(scene, hive, Quantity.WEIGHT)
