"""What becomes of the store after thousands of power cuts of each kind; prints how many open whole and how many say.

pytest tests/bench/bench_power_cut.py -s
"""

import random
import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "store"))
from power_cuts import Case, built, cases, judged

COUNT = 2_000


@pytest.mark.timeout(3600)
def test_power_cuts(tmp_path):
    base = built(tmp_path)
    for kind in Case:
        seen = Counter()
        for number, case in enumerate(cases(base, kind, random.Random(11), COUNT)):
            outcome = judged(base, case, tmp_path / str(number))
            seen[outcome] += 1
            if outcome not in kind.allowed:
                print(f"\n  {case.what}: {outcome}")
        told = ", ".join(f"{count:,} {outcome}" for outcome, count in seen.most_common())
        print(f"\n{kind.value}, {COUNT:,} times: {told}")
        assert set(seen) <= kind.allowed
