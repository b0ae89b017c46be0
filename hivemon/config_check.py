"""What can be wrong in hivemon.toml beyond its types: references, doubles, zones, quantities out of their place."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, available_timezones

import msgspec

from hivemon.certificates import LOCAL
from hivemon.config_check_notify import check_notify
from hivemon.config_words import ConfigFile, Path, found_at, leaves, nearest
from hivemon.errors import ConfigError
from hivemon.model import HIVE_QUANTITIES, Quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import (
        BrokerSettings,
        DeviceSettings,
        HiveSettings,
        InfluxSettings,
        PagesSettings,
        Settings,
        YardSettings,
    )
    from hivemon.limits import Limits

UNITS_ACCEPTED: dict[Quantity, tuple[str, ...]] = {
    Quantity.WEIGHT: ("kg", "g", "lb"),
    Quantity.TEMPERATURE: ("Cel", "degF"),
    Quantity.HUMIDITY: ("%RH",),
    Quantity.BATTERY: ("V", "mV"),
    Quantity.OUTSIDE_TEMPERATURE: ("Cel", "degF"),
    Quantity.OUTSIDE_HUMIDITY: ("%RH",),
    Quantity.RAIN: ("mm",),
}
"""What a device may speak, by quantity; converted once, at the edge."""


def check(settings: Settings, raw: dict[str, Any], text: str, where: str) -> None:
    """Check what types alone cannot: references, doubles, zones, quantities in their place. Raises ConfigError."""
    file = ConfigFile(where, text, raw)
    if not settings.yard:
        raise ConfigError(
            f"{where}: there is no yard in it", hint="add a [[yard]] with id, latitude, longitude, timezone"
        )
    _check_numbers(file)
    _check_ids(file, "yard", [yard.id for yard in settings.yard])
    _check_ids(file, "hive", [hive.id for hive in settings.hive])
    known = [yard.id for yard in settings.yard]
    placed: dict[str, Sequence[HiveSettings | DeviceSettings]] = {"hive": settings.hive, "device": settings.device}
    for section, entries in placed.items():
        for index, entry in enumerate(entries):
            if entry.yard not in known:
                _unknown_yard(file, (section, index, "yard"), entry.yard, known)
    for index, yard in enumerate(settings.yard):
        _check_zone(file, ("yard", index, "timezone"), yard)
    for index, device in enumerate(settings.device):
        _check_device(file, ("device", index), device)
    if settings.broker is not None:
        _check_broker(file, settings.broker)
    if settings.influx is not None:
        _check_influx(file, settings.influx)
    _check_pages(file, settings.pages)
    check_notify(file, settings)
    _check_rules(file, settings)
    _check_advice(file, ("advice",), settings.advice)
    for index, yard in enumerate(settings.yard):
        _check_advice(file, ("yard", index, "advice"), yard.advice)


def _check_numbers(file: ConfigFile) -> None:
    """Refuse TOML's nan and inf everywhere: no threshold or place can be either."""
    for path, value in leaves(file.raw):
        if isinstance(value, float) and not math.isfinite(value):
            raise file.wrong(path, f"{found_at(path, file.raw)} is no number to work with", hint="write a plain number")


def _check_ids(file: ConfigFile, section: str, ids: list[str]) -> None:
    for index, name in enumerate(ids):
        first = ids.index(name)
        if first != index:
            message = f'the id "{name}" is taken by number {first + 1}'
            raise file.wrong((section, index, "id"), message, hint=f"give each {section} its own id, whatever its yard")


def _unknown_yard(file: ConfigFile, path: Path, found: str, known: list[str]) -> None:
    near = nearest(found, known)
    hint = f'did you mean "{near}"?' if near else f"known yards: {', '.join(known)}"
    raise file.wrong(path, f'there is no yard "{found}"', hint=hint)


def _check_zone(file: ConfigFile, path: Path, yard: YardSettings) -> None:
    try:
        ZoneInfo(yard.timezone)
    except (KeyError, ValueError, OSError) as error:
        near = nearest(yard.timezone, available_timezones())
        hint = (
            f'did you mean "{near}"?' if near else 'write it like "Europe/Brussels" or "America/Chicago" (IANA names)'
        )
        raise file.wrong(path, f'"{yard.timezone}" is no time zone', hint=hint) from error


def _check_device(file: ConfigFile, path: Path, device: DeviceSettings) -> None:
    quantity = device.quantity.value
    if device.quantity in HIVE_QUANTITIES and device.hive is None:
        raise file.wrong(path, f"{quantity} belongs to a hive, and none is named", hint='add hive = "..."')
    if device.quantity not in HIVE_QUANTITIES and device.hive is not None:
        raise file.wrong((*path, "hive"), f"{quantity} belongs to the yard, not to a hive", hint="leave hive out")
    if re.search(r"[+#]", device.topic) or not device.topic:
        hint = "write one [[device]] for each device, without the wildcards + and #"
        raise file.wrong((*path, "topic"), "the topic must be one device's own", hint=hint)
    if device.scale == 0:
        hint = "leave it out for 1, or let `hivemon calibrate` find it"
        raise file.wrong((*path, "scale"), "scale = 0 would make every reading the same", hint=hint)
    allowed = UNITS_ACCEPTED[device.quantity]
    if device.unit is not None and device.unit not in allowed:
        message = f'the unit "{device.unit}" cannot be used for {quantity}'
        raise file.wrong((*path, "unit"), message, hint=f"allowed: {', '.join(allowed)}")
    for key, pointer in (("pointer", device.pointer), ("time_pointer", device.time_pointer)):
        if pointer and device.form != "json":
            raise file.wrong((*path, key), f'a {key} is of no use with form = "number"', hint='set form = "json"')
        if pointer and not pointer.startswith("/"):
            message = f'the {key} "{pointer}" does not begin with "/"'
            raise file.wrong((*path, key), message, hint=f'write "/{pointer.replace(".", "/")}" (RFC 6901)')


HOST = re.compile(r"[A-Za-z0-9._-]+|[0-9A-Fa-f]*:[0-9A-Fa-f.]*:[0-9A-Fa-f:.]*(%[A-Za-z0-9]+)?")
"""A name, an IPv4 address, or an IPv6 address: no scheme, no port, no path."""


def _check_broker(file: ConfigFile, broker: BrokerSettings) -> None:
    if not HOST.fullmatch(broker.host):
        hint = 'write the name or address alone, like "192.0.2.7"; the port goes into port, TLS into tls'
        raise file.wrong(("broker", "host"), "host is no host name or address", hint=hint)
    if not broker.topic or re.search(r"[#+\s]|^/|/$", broker.topic):
        message = f'topic = "{broker.topic}" cannot stand before /<yard>/<hive>'
        raise file.wrong(("broker", "topic"), message, hint='leave it out ("hives"), or drop #, + and outer /')


def _check_pages(file: ConfigFile, pages: PagesSettings) -> None:
    """Refuse to show the pages to a network without a password, or half of a certificate."""
    if not pages.is_local and pages.password_file is None:
        message = "the pages would be open to the network without a password"
        hint = 'add password_file = "pages-password", then run `hivemon password`'
        raise file.wrong(("pages", "bind"), message, hint=hint)
    if (pages.certificate is None) != (pages.key is None):
        given = "certificate" if pages.key is None else "key"
        raise file.wrong(("pages", given), "a certificate needs its key, and a key its certificate", hint="name both")


def _check_influx(file: ConfigFile, influx: InfluxSettings) -> None:
    """Refuse an address that is none, and one that shows the token to a network unless that is meant."""
    if not re.match(r"https?://[^/@\s]+(/[^@\s]*)?\Z", influx.url):
        hint = 'write it like "https://influx.example:8086"; the token goes into token_file'
        raise file.wrong(("influx", "url"), "url is no plain http:// or https:// address", hint=hint)
    parts = urlsplit(influx.url)
    if influx.tls and parts.scheme == "http" and parts.hostname not in LOCAL:
        message = "over http:// the token and every reading cross the network readable"
        raise file.wrong(("influx", "url"), message, hint="write https://, or add tls = false if that is meant")


def _check_rules(file: ConfigFile, settings: Settings) -> None:
    """Thresholds that contradict each other or can never be met would silence a question for ever."""
    for question in settings.rules.__struct_fields__:
        rule = getattr(settings.rules, question)
        for key in rule.__struct_fields__:
            if re.search(r"(^|_)(days|hours|minutes)$", key) and getattr(rule, key) <= 0:
                path = ("rules", question, key)
                raise file.wrong(path, f"{found_at(path, file.raw)} is out of range", hint="it must be more than 0")
    rules = settings.rules
    for question, low, high in (
        ("flow", "flow_end_kg_per_day", "flow_kg_per_day"),
        ("swarm", "least_kg", "most_kg"),
        ("brood", "cold_celsius", "hot_celsius"),
    ):
        rule = getattr(rules, question)
        if getattr(rule, low) >= getattr(rule, high):
            message = f"{low} = {getattr(rule, low):g} is not below {high} = {getattr(rule, high):g}"
            raise file.wrong(("rules", question, low), message, hint="change one of them")


_MAY_BE_NEGATIVE = frozenset({"weak_score"})
_MONTHS, _WEEKS = 12, 53
_SPANS = (("_low", "_high"), ("_first", "_last"), ("first_", "last_"), ("low_", "high_"))
"""How the names of two ends of a span differ."""


def _check_advice(file: ConfigFile, path: Path, limits: Limits) -> None:
    """Thresholds of advice below nothing, shares above all, and spans that end before they begin."""
    for question in limits.__struct_fields__:
        values = msgspec.structs.asdict(getattr(limits, question))
        for key, value in values.items():
            where = (*path, question, key)
            most = _most(key)
            if value is not None and key not in _MAY_BE_NEGATIVE and not 0 <= value <= (most or math.inf):
                hint = "it must be 0 or more" if most is None else f"it must be between 0 and {most}"
                raise file.wrong(where, f"{found_at(where, file.raw)} is out of range", hint=hint)
            for low, high in _SPANS:
                other = key.replace(low, high)
                if other != key and values.get(other, value) < value:
                    message = f"{key} = {value:g} is above {other} = {values[other]:g}"
                    raise file.wrong(where, message, hint="change one of them")


def _most(key: str) -> float | None:
    """Return the most a threshold can be by what its name says it is; None when there is no such bound."""
    if key.startswith(("share_", "expected_loss", "wanted_chance")):
        return 1
    if key.endswith("_percent"):
        return 100
    if key.endswith("month"):
        return _MONTHS
    return _WEEKS if key.endswith("_week") else None
