"""Which hive comes first, and how lists are cut into pages."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.config import HiveSettings, Settings, YardSettings
from hivemon.errors import UsageError
from hivemon.model import DAY, Advisory, Urgency
from hivemon.pages.advised import advised
from hivemon.pages.hives import Page, every_hive, find, in_order_of_need
from hivemon.store import Store

YARD = YardSettings(id="y", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "hivemon.db") as opened:
        yield opened


def settings(*hives):
    return Settings(yard=[YARD], hive=[HiveSettings(id=hive, yard="y") for hive in hives])


def advisory(hive, urgency, do_by=None, closed=None):
    return Advisory(
        id=f"{hive}/{urgency}/{do_by}", yard="y", hive=hive, raised=1, updated=1, closed=closed, urgency=urgency,
        title="t", saw="s", means="m", do_by=do_by,
    )  # fmt: skip


def test_the_most_urgent_comes_first_then_what_must_be_done_first_then_the_order_of_the_file(store):
    store.put_advisories(
        [
            advisory("b", Urgency.TODAY, do_by=50),
            advisory("c", Urgency.TODAY, do_by=40),
            advisory("d", Urgency.NOW),
            advisory("e", Urgency.FOR_INFORMATION),
            advisory("e", Urgency.THIS_WEEK, do_by=9 * DAY),
            advisory("a", Urgency.NOW, closed=5),
            advisory(None, Urgency.NOW),
        ]
    )
    known = settings("z", "a", "b", "c", "d", "e")
    found = in_order_of_need(known, store, advised(known, store, None, 2))
    assert [hive.settings.id for hive in found] == ["d", "c", "b", "e", "z", "a"]
    assert [hive.wanted for hive in found] == [True] * 4 + [False] * 2
    assert found[3].urgency is Urgency.THIS_WEEK, "the more urgent of its two"


def test_hives_that_came_by_themselves_are_there_but_not_those_of_unknown_yards(store):
    store.adopt("y", "new", 1)
    store.adopt("elsewhere", "lost", 1)
    store.adopt("y", "a", 1)
    assert [hive.id for hive in every_hive(settings("b", "a"), store)] == ["b", "a", "new"]
    assert find(settings("a"), store, "y", "new").id == "new"
    with pytest.raises(UsageError, match="no hive 'lost'"):
        find(settings("a"), store, "y", "lost")


@given(st.integers(0, 500), st.integers(-5, 50), st.integers(1, 30))
def test_pages_cover_everything_once_and_none_is_out_of_reach(total, number, size):
    things = list(range(total))
    page = Page.of(total, number, size)
    assert 0 <= page.number < page.pages
    cut = [thing for n in range(page.pages) for thing in things[Page.of(total, n, size).slice(size)]]
    assert cut == things
    assert len(things[page.slice(size)]) <= size
