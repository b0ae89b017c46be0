"""Options that several commands share, and how the configuration and the store are found."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.errors import ConfigError, UsageError

if TYPE_CHECKING:
    from hivemon.config import HiveSettings, Settings, YardSettings
    from hivemon.model import HiveDay
    from hivemon.store import Store

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        "-c",
        envvar="HIVEMON_CONFIG",
        help="The configuration. Default: ./hivemon.toml, then ~/.config/hivemon/hivemon.toml.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON for other programs: kg, °C, times in UTC.")]
YardOption = Annotated[str | None, typer.Option("--yard", help="Only this yard.")]
HiveOption = Annotated[str | None, typer.Option("--hive", help="Only this hive.")]
SinceOption = Annotated[
    str | None,
    typer.Option("--since", help="Only from then on: 2026-06-12, '2026-06-12 14:00', or days back as 7d."),
]


def find_config(given: Path | None) -> Path:
    """Return the configuration to use; raises ConfigError when none is named and none stands in the usual places."""
    if given is not None:
        return given
    base = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    usual = [Path("hivemon.toml"), base / "hivemon" / "hivemon.toml"]
    for candidate in usual:
        if candidate.exists():
            return candidate
    raise ConfigError(
        f"no configuration: neither ./{usual[0]} nor {usual[1]} is there",
        hint="run `hivemon setup` to write one, or name one with --config; `hivemon demo` needs none",
    )


def load_settings(given: Path | None) -> "Settings":
    """Find, read and check the configuration."""
    from hivemon.config import load

    return load(find_config(given))


def open_store(settings: "Settings", *, read_only: bool = True, make: bool = False) -> "Store":
    """Open the store the configuration names. Only a command that brings something to keep makes one (`make`)."""
    from hivemon.errors import StoreError
    from hivemon.store import Store

    path = Path(settings.store.path)
    if not make and not path.exists():
        raise StoreError(
            f"nothing is kept yet: there is no store at {path}",
            hint="`hivemon run` makes it and listens for sensors, `hivemon import` makes it from files you have",
        )
    return Store.open(path, read_only=read_only)


def wanted_yards(settings: "Settings", yard: str | None) -> "list[YardSettings]":
    """Return the yards to show: all, or the one named; raises UsageError when it is not configured."""
    if yard is None:
        return list(settings.yard)
    found = [candidate for candidate in settings.yard if candidate.id == yard]
    if not found:
        known = ", ".join(candidate.id for candidate in settings.yard)
        raise UsageError(f"there is no yard {yard!r}", hint=f"known yards: {known}")
    return found


def yard_of_hive(settings: "Settings", store: "Store | None", hive: str) -> str:
    """Return the yard a hive stands in, configured or (with a store) adopted; raises UsageError naming the nearest."""
    from hivemon.config_words import nearest

    known = {adopted.hive: adopted.yard for adopted in (store.adopted() if store is not None else [])}
    known |= {configured.id: configured.yard for configured in settings.hive}
    if hive in known:
        return known[hive]
    called = {configured.title.lower(): configured.id for configured in settings.hive}
    near = called.get(hive.lower()) or nearest(hive, known)
    hint = f"did you mean {near!r}?" if near else f"known hives: {', '.join(sorted(known)) or 'none'}"
    raise UsageError(f"there is no hive {hive!r}", hint=hint)


def hives_with_days(settings: "Settings", yard: str, days: "list[HiveDay]") -> "list[HiveSettings]":
    """Return the configured hives of a yard, then the adopted ones that have hive days, by id."""
    configured = settings.hives_of(yard)
    known = {hive.id for hive in configured}
    adopted = sorted({day.hive for day in days} - known)
    return [*configured, *(settings.find_hive(hive, yard) for hive in adopted)]
