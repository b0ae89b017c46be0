"""Devices that do not speak SenML: one number from a plain or JSON payload, scaled and converted at the edge."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import msgspec

from hivemon.errors import ConfigError, Unusable
from hivemon.intake.moments import parse_rfc3339
from hivemon.intake.names import is_number
from hivemon.intake.pointer import follow, parse_pointer
from hivemon.intake.senml import MOST_BYTES
from hivemon.intake.units import can_convert, to_own_unit
from hivemon.model import Millis, Reading

if TYPE_CHECKING:
    from hivemon.config import DeviceSettings

_json = msgspec.json.Decoder()


class DeviceMap:
    """One [[device]] of the configuration, checked and ready.

    Raises:
        ConfigError: Its topic has wildcards, its pointers are malformed or its unit does not fit its quantity.
    """

    def __init__(self, settings: DeviceSettings) -> None:
        self.settings = settings
        where = f"[[device]] {settings.topic!r}"
        if any(sign in settings.topic for sign in "+#") or not settings.topic:
            raise ConfigError(
                f"{where}: the topic must be one device's own",
                hint="write one [[device]] for each device, without the wildcards + and #",
            )
        if not can_convert(settings.unit or "", settings.quantity):
            raise ConfigError(f"{where}: {settings.quantity.value} cannot be in {settings.unit!r}")
        try:
            self._value_at = parse_pointer(settings.pointer)
            self._time_at = parse_pointer(settings.time_pointer) if settings.time_pointer is not None else None
        except ValueError as error:
            hint = 'a pointer looks like "/sensors/0/weight" (RFC 6901)'
            raise ConfigError(f"{where}: {error}", hint=hint) from error

    def reading(self, payload: bytes, received: Millis) -> Reading:
        """Read one payload that arrived at `received`; raises Unusable with the reason."""
        if len(payload) > MOST_BYTES:
            raise Unusable(f"payload of {len(payload)} bytes is longer than the {MOST_BYTES} taken")
        settings = self.settings
        moment: Millis | None = None
        if settings.form == "number":
            number = _plain_number(payload)
        else:
            document = _document(payload)
            number = _json_number(follow(document, self._value_at), settings.pointer)
            if self._time_at is not None:
                moment = _moment(follow(document, self._time_at))
        value = to_own_unit(number * settings.scale + settings.offset, settings.unit or "", settings.quantity)
        return Reading(
            received if moment is None else moment,
            settings.yard,
            settings.hive,
            settings.quantity,
            value,
            stamped=moment is None,
        )


def _document(payload: bytes) -> Any:
    try:
        return _json.decode(payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise Unusable(f"not JSON: {error}") from None


def _plain_number(payload: bytes) -> float:
    """Read a payload that is a number and nothing else; a decimal comma is refused, not guessed at."""
    text = payload.decode("utf-8", "replace").strip()
    if not is_number(text):
        hint = ": write the decimal point as '.'" if "," in text else ""
        raise Unusable(f"{_short(text)} is not a plain number{hint}")
    return _finite(float(text), text)


def _json_number(found: Any, pointer: str) -> float:
    """Accept a JSON number, or text that is one (many small devices quote their numbers)."""
    if isinstance(found, str) and is_number(found):
        return _finite(float(found), found)
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise Unusable(f"at {pointer!r} stands {_short(str(found))}, which is not a number")
    try:
        return float(found)
    except OverflowError:
        raise Unusable(f"the number at {pointer!r} is too large") from None


def _moment(found: Any) -> Millis:
    """Read a time: RFC 3339 text, or Unix seconds."""
    if isinstance(found, str):
        try:
            return parse_rfc3339(found)
        except ValueError as error:
            raise Unusable(str(error)) from None
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise Unusable(f"{_short(str(found))} is no time: RFC 3339 text or Unix seconds are understood")
    if not 0 <= found < 253_402_300_800:  # noqa: PLR2004 - the year 10000
        raise Unusable(f"{found:g} is no time in Unix seconds (are they milliseconds?)")
    return round(found * 1000)


def _finite(value: float, text: str) -> float:
    if not math.isfinite(value):
        raise Unusable(f"the number {_short(text)} is too large")
    return value


def _short(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")  # noqa: PLR2004 - a line on a screen
