"""A store in a temporary folder, and short ways to make what goes into it."""

import pytest

from hivemon.store import Store


@pytest.fixture
def path(tmp_path):
    return tmp_path / "hivemon.db"


@pytest.fixture
def store(path):
    with Store.open(path) as opened:
        yield opened
