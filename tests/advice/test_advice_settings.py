"""Thresholds of advice, visiting days and language come from hivemon.toml, for every yard or for one."""

from __future__ import annotations

import pytest
from advice_scenes import HIVES, YARD

from hivemon.advice.scene import Scene
from hivemon.config import parse
from hivemon.errors import ConfigError
from hivemon.limits import Limits

TWO_YARDS = """
language = "nl"

[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"
visit_days = ["saturday", "sunday"]

[yard.advice.winter]
target_kg = 22.0

[[yard]]
id = "heath"
latitude = 52.6
longitude = 9.9
timezone = "Europe/Berlin"
language = "en"

[advice.winter]
target_kg = 18.0
expected_loss = 0.4
"""


def test_what_is_said_for_every_yard_counts_where_a_yard_says_nothing():
    settings = parse(TWO_YARDS)
    orchard, heath = settings.yard
    assert (orchard.advice.winter.target_kg, orchard.advice.winter.expected_loss) == (22.0, 0.4)
    assert (heath.advice.winter.target_kg, heath.advice.winter.expected_loss) == (18.0, 0.4)
    assert (orchard.language, heath.language) == ("nl", "en")
    assert orchard.visit_days == ["saturday", "sunday"]
    assert heath.visit_days == []


def test_a_scene_uses_the_thresholds_of_its_yard():
    yard = parse(TWO_YARDS).yard[0]
    assert Scene(yard=yard, hives=HIVES, now=0).limits.winter.target_kg == 22.0
    assert Scene(yard=YARD, hives=HIVES, now=0).limits == Limits()


WRONG = {
    "unknown question": ("[advice.supper]\nask_days = 3", "supper", "supers"),
    "unknown threshold": ("[advice.supers]\nask_dais = 3", "ask_dais", "ask_days"),
    "negative": ("[advice.food]\nwarn_days = -1", "warn_days = -1", "0 or more"),
    "share above all": ("[advice.winter]\nexpected_loss = 30", "expected_loss = 30", "between 0 and 1"),
    "ends before it begins": ("[advice.supers]\nfresh_room_low = 5.0", "fresh_room_low", "change one of them"),
    "no such month": ("[advice.mites]\nlast_month = 13", "last_month = 13", "between 0 and 12"),
    "of one yard": ("[yard.advice.mites]\nthreshold_percent = 200", "threshold_percent = 200", "between 0 and 100"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_mistake_is_named_with_its_line_and_a_way_out(name):
    text, found, hint = WRONG[name]
    smallest = '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n\n'
    with pytest.raises(ConfigError) as error:
        parse(smallest + text)
    assert found in str(error.value)
    assert "line" in str(error.value)
    assert hint in (error.value.hint or "")


def test_the_defaults_themselves_pass_the_check():
    assert parse(TWO_YARDS.replace("[advice.winter]\ntarget_kg = 18.0\nexpected_loss = 0.4", "")).advice == Limits()
