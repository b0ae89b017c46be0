"""The power fails: files cut off or half written at any place. The store opens with all it had acknowledged, or says.

A process that commits is killed, and its files stand for what a disk holds at that moment; then they are cut and torn
as a disk does that was writing (whole sectors of 512 bytes, in any order). bench_power_cut.py tries thousands.
"""

import random

import pytest
from power_cuts import Case, built, cases, judged


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return built(tmp_path_factory.mktemp("base"))


@pytest.mark.parametrize("kind", list(Case))
def test_it_opens_or_says_what_is_lost(base, tmp_path, kind):
    chance = random.Random(7)
    for number, case in enumerate(cases(base, kind, chance, 25)):
        outcome = judged(base, case, tmp_path / str(number))
        assert outcome in kind.allowed, (kind, case.what, outcome)
