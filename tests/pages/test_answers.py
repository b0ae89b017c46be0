"""What may be answered to each kind of event, and which entry it becomes: a case for every kind."""

import pytest

from hivemon.errors import UsageError
from hivemon.model import WEIGHT_SIGN, Event, Kind
from hivemon.pages.answers import answer, choices


def event(kind, size=None, unit="", withdrawn=None, hive="o1"):
    return Event(
        id=f"orchard/{hive}/{kind.value}/2025", kind=kind, yard="orchard", hive=hive, onset=1000, onset_first=1000,
        raised=2000, withdrawn=withdrawn, size=size, unit=unit, confidence=0.8, reason="r", summary="s",
    )  # fmt: skip


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_can_be_answered_and_denied_or_explained(kind):
    """Each offered answer becomes an entry at the time of the event that names it."""
    asked = event(kind, -3.2, "kg")
    offered = choices(asked)
    assert len({choice.key for choice in offered}) == len(offered) >= 2
    for choice in offered:
        entry = answer(asked, choice.key, "o1")
        assert (entry.time, entry.hive, entry.entry) == (1000, "o1", choice.entry)
        assert asked.id in entry.note


@pytest.mark.parametrize("kind", list(Kind))
def test_what_was_taken_back_asks_nothing(kind):
    assert choices(event(kind, withdrawn=3000)) == ()
    with pytest.raises(UsageError, match="no answer"):
        answer(event(kind, withdrawn=3000), "yes", "o1")


@pytest.mark.parametrize(("size", "sign"), [(4.1, 1), (-4.1, -1)])
def test_a_step_is_only_explained_by_what_moves_the_weight_its_way(size, sign):
    """Against the table of what each entry does to a weight; 0 there means either way."""
    for choice in choices(event(Kind.UNLOGGED_STEP, size, "kg")):
        assert WEIGHT_SIGN[choice.entry] in (sign, 0), choice.key


def test_the_amount_is_what_the_scale_saw_where_the_entry_has_one():
    asked = event(Kind.SWARM, 3.26, "kg")
    assert answer(asked, "took-bees", "o1").amount == 3.3
    assert answer(asked, "swarm-seen", "o1").amount is None
    assert answer(asked, "scale", "o1").amount is None
