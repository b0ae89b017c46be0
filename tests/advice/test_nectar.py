"""How thin nectar is, told from nights: against a mass balance worked out beside the program."""

from __future__ import annotations

import msgspec
import pytest
from advice_scenes import LIME, NOW, days, event, scene

from hivemon.advice.nectar import fresh_room
from hivemon.advice.room import fresh_room_ratio
from hivemon.config import YardSettings
from hivemon.model import DAY, Kind

FLOW = event(Kind.FLOW_ONSET, NOW - 7 * DAY, size=1.0)
NIGHT = 7 / 24
USUAL = (2.5, 3.4)


def nights(sugar: float, honey: float = 1.2, eaten: float = 0.22):
    """A fortnight without nectar, then a week of it.

    The honey of a day comes as honey x 0.82 / sugar kg of nectar (18 % water in honey); what is more is water, and a
    night of seven hours (and an hour for its edges) takes its share of it, beside a third of what is eaten.
    """
    water = honey * (0.82 / sugar - 1)
    lost = eaten / 3 + water * (NIGHT - 1 / 24)
    shape = {"overnight_change": -eaten / 3}
    before = days([-eaten] * 14, until=NOW - 7 * DAY, **shape)
    return [*before, *days([honey - eaten] * 7, overnight_change=-lost)]


def room_of(found, **more) -> tuple[float, float]:
    return fresh_room(scene(days={"o1": found}, events=[FLOW], **more), LIME.id, FLOW)


@pytest.mark.parametrize("sugar", [0.27, 0.3, 0.35, 0.4, 0.45, 0.5])
def test_the_nights_draw_what_is_usual_towards_the_nectar_that_came(sugar):
    low, high = room_of(nights(sugar))
    true, usual = fresh_room_ratio(sugar), sum(USUAL) / 2
    assert abs((low + high) / 2 - true) <= 0.85 * abs(usual - true) + 0.02
    assert high - low < USUAL[1] - USUAL[0]


@pytest.mark.parametrize("sugar", [0.3, 0.35, 0.4, 0.43])
def test_nectar_of_common_strength_lies_in_the_span_that_is_told(sugar):
    low, high = room_of(nights(sugar))
    assert low - 0.1 <= fresh_room_ratio(sugar) <= high + 0.1


def test_dew_hides_the_water_of_a_small_flow():
    """A sixth of a kilo of honey a day leaves nights that dew may have made: what is usual stands."""
    low, high = room_of(nights(0.5, honey=0.4))
    assert (low + high) / 2 > room_of(nights(0.5, honey=3.0))[0] + 0.2


@pytest.mark.parametrize(
    "found",
    [[], nights(0.3)[:16], days([0.8] * 10), nights(0.3, honey=0.1)],
    ids=["no-days", "two-nights", "nights-unknown", "no-income"],
)
def test_what_is_usual_stands_where_nights_do_not_tell(found):
    assert room_of(found) == USUAL


def test_what_a_hive_eats_stands_for_nights_that_were_never_seen():
    assert room_of(nights(0.4)[14:]) == pytest.approx(room_of(nights(0.4)), abs=0.05)


def test_a_beekeeper_who_knows_his_nectar_is_not_corrected():
    limits = scene().limits
    fixed = msgspec.structs.replace(limits.supers, fresh_room_low=2.0, fresh_room_high=2.0)
    yard = YardSettings(
        id="orchard", latitude=51.2, longitude=3.4, timezone="UTC",
        advice=msgspec.structs.replace(limits, supers=fixed),
    )  # fmt: skip
    assert room_of(nights(0.3), yard=yard) == (2.0, 2.0)


def test_without_a_flow_nothing_is_told():
    assert fresh_room(scene(days={"o1": nights(0.3)}), LIME.id, None) == USUAL
