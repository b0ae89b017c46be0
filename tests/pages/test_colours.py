"""The pages' colours, measured: axe-core sees text, but not what is drawn on a canvas."""

import re

import numpy as np
import pytest

from hivemon.pages.static import folder

STYLE = (folder() / "style" / "base.css").read_text()
LIGHT, DARK = (
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", part))
    for part in (STYLE.partition("@media")[0], STYLE.partition("@media")[2].partition("\n}\n")[0])
)
SCHEMES = {"light": LIGHT, "dark": {**LIGHT, **DARK}}

# Machado, Oliveira and Fernandes 2009, severity 1.0, for linear RGB (matrices from memory).
BLINDNESS = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
TO_XYZ = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]  # IEC 61966-2-1


def linear(colour):
    values = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """The contrast ratio of WCAG 2.2."""
    light = sorted(float(np.dot([0.2126, 0.7152, 0.0722], linear(colour))) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def lab(rgb):
    """CIELAB under D65."""
    xyz = np.array(TO_XYZ) @ np.clip(rgb, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_and_drawing_stand_out(scheme):
    """WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for what must be seen to understand (1.4.11), nights included."""
    colours = SCHEMES[scheme]
    for ground in ("ground", "sheet"):
        for text in ("ink", "ink-soft", "accent", "wanted"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for drawn in ("weight", "gain", "loss", "nest", "outside", "humidity"):
        for ground in ("ground", "night"):
            assert contrast(colours[drawn], colours[ground]) >= 3.0, (drawn, ground)
    assert contrast(colours["nest"], colours["band"]) >= 3.0


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("kind", BLINDNESS)
def test_what_stands_side_by_side_is_told_apart_by_the_colour_blind(scheme, kind):
    """A distance of 20 in CIELAB is plain to see; direction, dashes, shapes and words tell the same once more."""
    colours = SCHEMES[scheme]
    for one, other in (("nest", "outside"), ("gain", "loss"), ("wanted", "ink")):
        seen = [lab(np.array(BLINDNESS[kind]) @ linear(colours[name])) for name in (one, other)]
        assert float(np.linalg.norm(seen[0] - seen[1])) > 20, (one, other)
