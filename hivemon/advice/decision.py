"""What every decision returns: a verdict, the named reason for it, and how sure it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, NamedTuple, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable

V = TypeVar("V")
R = TypeVar("R")


class Decision(NamedTuple, Generic[V, R]):
    """The outcome of one decision: `verdict` and `reason` are members of the deciding module's own enumerations.

    `confidence` runs from 0 to 1 and is about the verdict, not about the event it rests on.
    """

    verdict: V
    reason: R
    confidence: float


def first_that_holds(rows: Iterable[tuple[bool, R, float]]) -> tuple[R, float]:
    """Return reason and confidence of the first row that is true; the last row must be.

    Raises:
        LookupError: when no row holds, which is a mistake in the table.
    """
    for holds, reason, confidence in rows:
        if holds:
            return reason, confidence
    raise LookupError("no row of the decision table holds; its last row must always hold")
