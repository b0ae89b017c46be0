"""The arithmetic of counting: mites in a sample of bees, and colonies that come through a winter."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

_LEVEL = 0.95
"""Chance with which a span holds the true rate of mites: the usual one."""
BEES = re.compile(r"\bbees\s*=\s*(?:(\d)[.,'\u00a0\u202f ](\d{3})(?!\d)|(\d+))", re.IGNORECASE)
"""The number of bees in a note; `1,000`, `1.000` and `1 000` are a thousand, with one figure before the sign: a wash is
of hundreds, and in `bees=300 250 ml` the second number is another thing."""
MOST_COLONIES = 200
"""Yards are smaller; beyond it the search for a number of colonies stops."""


class Rate(NamedTuple):
    """Mites per 100 bees: as counted, and the ends of the span that holds the true rate with 95 % chance."""

    percent: float
    low: float
    high: float


def bees_in(note: str, usual: int) -> int:
    """Return the number of bees a note gives as `bees=300`; `usual` where it gives none, or 0."""
    found = BEES.search(note)
    return int("".join(filter(None, found.groups()))) or usual if found else usual


def mite_rate(mites: float, bees: int) -> Rate:
    """Return mites per 100 bees with the exact Poisson interval (Garwood 1936); several mites can sit on one bee.

    Raises ValueError when `bees` is not positive or `mites` is negative.
    """
    if bees <= 0 or mites < 0:
        raise ValueError(f"{mites:g} mites in {bees} bees cannot be a count")
    from scipy.special import gammainccinv, gammaincinv  # noqa: PLC0415 - a third of a second, for who has counted

    tail = (1 - _LEVEL) / 2
    fewest, most = math.floor(mites), math.ceil(mites)
    # The chance of k or fewer at a mean m is the regularised gamma function Q(k + 1, m).
    low = float(gammaincinv(fewest, tail)) if fewest else 0.0
    high = float(gammainccinv(most + 1, tail))
    return Rate(100 * mites / bees, 100 * low / bees, 100 * high / bees)


def chance_of(at_least: int, colonies: int, loss: float) -> float:
    """Return the chance that at least so many of `colonies` live when each is lost with probability `loss`.

    Binomial: losses are taken as independent, which is hopeful; bad winters and mites hit whole yards.
    """
    lives = 1 - loss
    return sum(math.comb(colonies, k) * lives**k * loss ** (colonies - k) for k in range(at_least, colonies + 1))


def colonies_for(wanted: int, loss: float, chance: float) -> int | None:
    """Return the fewest colonies of which, with at least this chance, `wanted` live; None above `MOST_COLONIES`."""
    for colonies in range(wanted, MOST_COLONIES + 1):
        if chance_of(wanted, colonies, loss) >= chance:
            return colonies
    return None
