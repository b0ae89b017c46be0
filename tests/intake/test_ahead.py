"""Reading ahead changes when things are made, and nothing else."""

import threading
import time

import pytest

from hivemon.intake.ahead import Ahead


def test_items_come_in_their_order_and_all_of_them():
    with Ahead(range(1000)) as items:
        assert list(items) == list(range(1000))


def test_an_error_in_making_is_raised_where_the_item_would_have_come():
    def broken():
        yield 1
        raise ValueError("row 2")

    with Ahead(broken()) as items:
        made = iter(items)
        assert next(made) == 1
        with pytest.raises(ValueError, match="row 2"):
            next(made)


def test_no_more_is_made_ready_than_allowed():
    made = []

    def slow():
        for n in range(100):
            made.append(n)
            yield n

    with Ahead(slow(), most=2) as items:
        time.sleep(0.1)
        assert len(made) <= 4
        assert next(iter(items)) == 0


def test_leaving_early_ends_the_thread():
    before = threading.active_count()
    with Ahead(iter(int, 1)) as items:
        next(iter(items))
    assert threading.active_count() == before
