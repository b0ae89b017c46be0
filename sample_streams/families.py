"""Families of scenarios: each seed gives another season of the same kind."""

from __future__ import annotations

from collections.abc import Callable

from .plan import Scenario

Family = Callable[[int, int | None, float | None], Scenario]
ALL: dict[str, Family] = {}
