"""Who or what made a step of the weight."""

from __future__ import annotations

from enum import StrEnum


class Cause(StrEnum):
    """Who or what made a step."""

    SWARM = "swarm"
    LOGGED = "logged"
    UNLOGGED = "unlogged"
    WEATHER = "weather"
    OFF_SCALE = "off-scale"
    FAULT = "fault"
