"""`hivemon calibrate`: the arithmetic against numpy, scipy, NIST's certified values and the worksheet; what it says."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from hivemon.errors import UsageError
from hivemon.recognise.calibration import Point, fit, judge, misses

NOTES = Path(__file__).parents[2] / "firmware-notes" / "calibration.md"
NORRIS = """
0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0
559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1
998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0
10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
"""
"""y and x of Norris, NIST Statistical Reference Datasets (calibration of ozone monitors), from memory; that the
certified values below come out of it shows that memory was right."""


def points(*pairs: tuple[float, float]) -> list[Point]:
    return [Point(kg, shown) for kg, shown in pairs]


def exact(*masses: float) -> list[Point]:
    return [Point(kg, 84_000 + kg * 21_600) for kg in masses]


def test_nists_certified_line_comes_out() -> None:
    numbers = [float(text) for text in NORRIS.split()]
    line = fit([Point(y, x) for y, x in zip(numbers[::2], numbers[1::2], strict=True)])
    assert line.scale == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.offset == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.scale_error == pytest.approx(0.429796848199937e-3, rel=1e-10)
    assert line.offset_error == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.noise == pytest.approx(0.884796396144373, rel=1e-10)


SOME = st.lists(st.tuples(st.floats(0, 100), st.floats(-0.2, 0.2)), min_size=3, max_size=12)


@given(SOME, st.floats(1e-5, 10), st.floats(-1e5, 1e5))
def test_line_and_errors_agree_with_numpy_and_scipy(some, per_kg, zero) -> None:
    masses = np.array([0.0, *(kg for kg, _ in some), 50.0])
    shown = np.array([zero, *(zero + (kg + noise) / per_kg for kg, noise in some), zero + 50 / per_kg])
    line = fit([Point(kg, number) for kg, number in zip(masses.tolist(), shown.tolist(), strict=True)])
    judged = stats.linregress(shown, masses)
    assert line.scale == pytest.approx(judged.slope, rel=1e-6)
    assert line.kilograms(line.middle) == pytest.approx(np.polyval(np.polyfit(shown, masses, 1), line.middle), abs=1e-4)
    if line.noise and line.noise > 1e-3:  # below that scipy's way by 1 - r² is the one that cancels out
        assert line.scale_error == pytest.approx(judged.stderr, rel=1e-3)
        assert line.offset_error == pytest.approx(judged.intercept_stderr, rel=1e-3)


def test_the_interval_about_the_line_holds_the_truth_nineteen_times_of_twenty() -> None:
    chance, held = np.random.default_rng(7), 0
    for _ in range(1000):
        shown = [84_000 + kg * 21_600 + chance.normal(0, 400) for kg in (0, 0, 20, 20, 40)]
        line = fit(points(*zip((0, 0, 20, 20, 40), shown, strict=True)))
        uncertain = line.uncertainty(60)
        assert uncertain is not None
        held += abs(line.kilograms(84_000 + 60 * 21_600) - 60) < uncertain
    assert 930 <= held <= 968  # 950, and 2.6 standard deviations of a binomial


def test_the_worksheet_of_the_notes_comes_out() -> None:
    line = fit(points((0, 84_000), (20, 516_000)))
    (check, empty) = misses(line, points((40, 946_700), (0, 84_200)))
    page = NOTES.read_text(encoding="utf-8")
    for shown in (f"| {line.scale:.10f} |", f"| {line.offset:.4f} |", f"| {check:.3f} |", f"| {empty:.3f} |"):
        assert shown in page
    assert line.noise is None
    assert line.uncertainty(60) is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (points((20, 516_000)), "two different masses"),
        (points((20, 516_000), (20, 517_000)), "two different masses"),
        (points((0, 516_000), (20, 516_000)), "the same with every mass"),
        (points((0, 1), (20, 2), (0, 2), (20, 1)), "nothing to do with the masses"),
    ],
)
def test_what_gives_no_line_is_said(given, said) -> None:
    with pytest.raises(UsageError, match=said):
        fit(given)


@pytest.mark.parametrize(
    ("made_of", "checks", "said"),
    [
        (exact(0, 20, 40), exact(0, 30), None),
        (exact(0, 20), [], "only a third mass shows"),
        (exact(0, 5), exact(3), "a hive weighs far more"),
        ([*exact(0, 10, 30, 40), Point(20, 84_000 + 19.4 * 21_600)], [], "by them it is 19.40 kg"),
        ([*exact(0, 40), Point(20, 84_000 + 20.6 * 21_600)], [], "on a curve, 0.60 kg deep"),
        (exact(0, 20), [Point(40, 84_000 + 39.5 * 21_600)], "misses by -0.500 kg"),
        (exact(0, 20), [Point(0, 84_000 + 0.2 * 21_600)], "Empty, it comes back to +0.200 kg"),
    ],
)
def test_what_is_not_as_it_should_be_is_said_and_nothing_else(made_of, checks, said) -> None:
    found = judge(fit(made_of), made_of, checks, None)
    assert ([] if said is None else [said]) == [said for sentence in found if said and said in sentence]
    assert len(found) == (said is not None)


@pytest.mark.parametrize("degrees", [5, 8, 15])
def test_a_scale_that_leans_since_is_recognised_by_its_cosine(degrees) -> None:
    lean = math.cos(math.radians(degrees))
    leaned = [Point(kg, 84_000 + kg * lean * 21_600) for kg in (20, 40)]
    (said,) = judge(fit(exact(0, 20)), exact(0, 20), leaned, None)
    assert f"leans by {degrees} degrees more" in said


def test_the_cell_decides_how_near_to_nothing_an_empty_stand_must_come_back() -> None:
    """Half an interval of a C3 cell of 1000 kg is 167 g, of 200 kg 33 g (OIML R 60-1, 5.5.2)."""
    back = [Point(0, 84_000 + 0.1 * 21_600), *exact(40)]
    assert judge(fit(exact(0, 20)), exact(0, 20), back, 1000) == []
    assert "0.033" in judge(fit(exact(0, 20)), exact(0, 20), back, 200)[0]
