"""Whether a scale's first weights can be a hive's."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.rules import StepRule

BARE_KG = 14.0
"""Floor, lid and one box weigh 14-20 kg (from memory); less is a nucleus or no hive."""
HEAVY_KG = 200.0
"""Four full deep boxes (40 kg each, common practice) and woodware; more is a wrong unit or scale. Our rule."""
RESTLESS_KG = 0.3
"""A hive's weight moves less than this in a few minutes when nobody touches it. Our rule."""


def doubts(kilograms: NDArray[np.float64], rule: StepRule) -> list[str]:
    """Return what does not fit a hive on a scale, in sentences with what to do; empty when all is well.

    Args:
        kilograms: Weights heard within a few minutes, shape (n,), at least one.
        rule: `off_scale_kg` is the least that is a hive at all.
    """
    middle = float(np.median(kilograms))
    found = []
    if middle < rule.off_scale_kg:
        found.append(
            f"{middle:.1f} kg is no hive: an empty stand, or a scale that is not calibrated (hivemon calibrate)"
        )
    elif middle < BARE_KG:
        found.append(f"{middle:.1f} kg is less than floor, lid and one box ({BARE_KG:g} kg): a nucleus? else calibrate")
    elif middle > HEAVY_KG:
        found.append(f"{middle:.0f} kg is more than a hive weighs: look at the unit, then calibrate")
    spread = float(np.ptp(kilograms))
    if spread > RESTLESS_KG:
        found.append(
            f"it moved by {spread:.2f} kg meanwhile: unless somebody worked there, look for wind, a loose cable, "
            "or something that touches the stand"
        )
    return found
