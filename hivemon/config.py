"""hivemon.toml in, checked settings out. Unknown keys are errors that name the nearest known key."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Meta

from hivemon.certificates import LOCAL
from hivemon.config_check import check
from hivemon.config_notify import ChannelSettings, NotifySettings
from hivemon.config_secret import secret
from hivemon.config_words import explain, explain_toml
from hivemon.errors import ConfigError
from hivemon.limits import Limits
from hivemon.model import Quantity
from hivemon.rules import Rules

Name = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*\Z", max_length=64)]
"""An id that is safe in a topic, a SenML name and a file name."""
Port = Annotated[int, Meta(ge=1, le=65535)]
Language = Literal["en", "nl"]
"""A language that advice can be given in."""
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


class _Section(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A table of hivemon.toml: nothing in it may be unknown."""


class YardSettings(_Section, frozen=True, kw_only=True):
    """A place with hives. Latitude and longitude in degrees, north and east positive."""

    id: Name
    name: str = ""
    latitude: Annotated[float, Meta(ge=-90, le=90)]
    longitude: Annotated[float, Meta(ge=-180, le=180)]
    timezone: str
    visit_days: list[Weekday] = []
    """Days of the week on which the beekeeper can come; empty: any. A date moves to the last such day before it."""
    language: Language | None = None
    """None: that of the whole file."""
    advice: Limits = Limits()
    """Thresholds of advice for this yard, `[yard.advice.<question>]` below it; `[advice.<question>]` gives the rest."""

    @property
    def title(self) -> str:
        """What a person calls it."""
        return self.name or self.id

    @property
    def zone(self) -> ZoneInfo:
        """The yard's time zone."""
        return ZoneInfo(self.timezone)


class HiveSettings(_Section, frozen=True, kw_only=True):
    """One colony on one scale. Boxes as they stood when the hive was entered here; the logbook changes them."""

    id: Name
    yard: Name
    name: str = ""
    brood_boxes: Annotated[int, Meta(ge=1, le=6)] = 1
    supers: Annotated[int, Meta(ge=0, le=12)] = 0
    super_kg: Annotated[float, Meta(gt=0, le=60)] = 12.0
    """Honey one full super holds, kg: a medium of ten frames 16-18, a shallow 11-14; 12 is the cautious default."""
    tare_kg: Annotated[float, Meta(ge=0, le=200)] | None = None
    """Weight of the empty woodware and lid with the brood boxes, kg; None: guessed from the boxes."""
    screened_floor: bool = False

    @property
    def title(self) -> str:
        """What a person calls it."""
        return self.name or self.id


class BrokerSettings(_Section, frozen=True, kw_only=True):
    """An MQTT broker of the beekeeper's own. The password comes from `password_file` or HIVEMON_BROKER_PASSWORD."""

    host: str
    port: Port | None = None
    """None: 8883 with TLS, 1883 without."""
    tls: bool | None = None
    """None: on, unless the host is this machine."""
    ca_file: str | None = None
    user: str | None = None
    password_file: str | None = None
    client_id: str = "hivemon"
    topic: str = "hives"
    share: Name | None = None
    """This daemon's share where several divide the yards of one broker: it hears its own yards and no others."""

    @property
    def session(self) -> str:
        """The name under which the broker keeps messages for this daemon; each share has its own."""
        return f"{self.client_id}-{self.share}" if self.share else self.client_id

    @property
    def uses_tls(self) -> bool:
        """Whether the link is encrypted."""
        return self.tls if self.tls is not None else self.host not in LOCAL

    @property
    def actual_port(self) -> int:
        """The port given, or the usual one (1883 plain, 8883 TLS; IANA)."""
        return self.port if self.port is not None else (8883 if self.uses_tls else 1883)

    def password(self) -> str | None:
        """Read the password from its file or the environment; raises ConfigError when the file cannot be read."""
        return secret(self.password_file, "HIVEMON_BROKER_PASSWORD", "broker.password_file")


class EmbeddedSettings(_Section, frozen=True, kw_only=True):
    """The broker inside hivemon, used when no [broker] is named."""

    bind: str = "127.0.0.1"
    port: Port = 1883


class StoreSettings(_Section, frozen=True, kw_only=True):
    """Where readings, events and advice are kept."""

    path: str = "hivemon.db"
    raw_days: Annotated[int, Meta(ge=7)] = 400
    """Days that raw readings are kept; 15-minute means are kept for ever."""


class InfluxSettings(_Section, frozen=True, kw_only=True):
    """An InfluxDB (2.x write API) that gets a copy of everything. Token from `token_file` or HIVEMON_INFLUX_TOKEN."""

    url: str
    tls: bool = True
    """False: an http:// address beyond this machine is meant; token and readings cross the network readable."""
    ca_file: str | None = None
    org: str = "-"
    bucket: str = "hivemon"
    token_file: str | None = None

    def token(self) -> str:
        """Read the token from its file or the environment; empty when there is none."""
        return secret(self.token_file, "HIVEMON_INFLUX_TOKEN", "influx.token_file") or ""


class DeviceSettings(_Section, frozen=True, kw_only=True):
    """How to read a device that does not speak SenML: value = number in the payload x scale + offset, in `unit`."""

    topic: str
    yard: Name
    hive: Name | None = None
    quantity: Quantity
    form: Literal["number", "json"] = "number"
    pointer: str = ""
    """RFC 6901 pointer to the number, for form = "json"."""
    time_pointer: str | None = None
    """RFC 6901 pointer to the time (RFC 3339 text, or Unix seconds); None: stamped on receipt."""
    unit: str | None = None
    """kg, g, lb, Cel, degF, %RH, V, mV, mm; None: the quantity's own unit."""
    scale: float = 1.0
    offset: float = 0.0


class PagesSettings(_Section, frozen=True, kw_only=True):
    """The web pages that `hivemon run` serves. `hivemon password` writes `password_file`."""

    on: bool = True
    bind: str = "127.0.0.1"
    port: Port = 8321
    names: list[str] = []
    """Further names under which browsers may ask for the pages: a phone writes the machine's name or address."""
    password_file: str | None = None
    """Holds the password's hash, never the password. Must be named when `bind` is not this machine alone."""
    certificate: str | None = None
    key: str | None = None
    """Certificate and key for HTTPS (PEM); None: plain HTTP, for this machine or behind a proxy that encrypts."""

    scrape_token_file: str | None = None
    """Where the pages have a password, a scraper shows this token, or HIVEMON_SCRAPE_TOKEN, at /metrics."""

    @property
    def is_local(self) -> bool:
        """Whether only this machine can reach the pages."""
        return self.bind in LOCAL

    def scrape_token(self) -> str | None:
        """Read the token from its file or the environment; None: no scraper gets in without a session."""
        return secret(self.scrape_token_file, "HIVEMON_SCRAPE_TOKEN", "pages.scrape_token_file") or None


class UnitSettings(_Section, frozen=True, kw_only=True):
    """Units a person sees."""

    weight: Literal["kg", "lb"] = "kg"
    temperature: Literal["C", "F"] = "C"


class Settings(_Section, frozen=True, kw_only=True):
    """Everything in hivemon.toml."""

    yard: list[YardSettings] = []
    hive: list[HiveSettings] = []
    device: list[DeviceSettings] = []
    broker: BrokerSettings | None = None
    embedded: EmbeddedSettings = EmbeddedSettings()
    store: StoreSettings = StoreSettings()
    influx: InfluxSettings | None = None
    pages: PagesSettings = PagesSettings()
    notify: NotifySettings = NotifySettings()
    channel: list[ChannelSettings] = []
    units: UnitSettings = UnitSettings()
    rules: Rules = Rules()
    advice: Limits = Limits()
    """Thresholds of advice for every yard that does not set its own."""
    language: Language = "en"

    def find_yard(self, yard: str) -> YardSettings:
        """Return a yard by id; raises ConfigError when it is not there."""
        for candidate in self.yard:
            if candidate.id == yard:
                return candidate
        known = ", ".join(y.id for y in self.yard)
        raise ConfigError(f"there is no yard {yard!r} in the configuration (known: {known})")

    def find_hive(self, hive: str, yard: str) -> HiveSettings:
        """Return a hive by id; one that is not configured is adopted into `yard` with defaults."""
        for candidate in self.hive:
            if candidate.id == hive and candidate.yard == yard:
                return candidate
        return HiveSettings(id=hive, yard=yard)

    def hives_of(self, yard: str) -> list[HiveSettings]:
        """Return the configured hives of a yard, in the order of the file."""
        return [hive for hive in self.hive if hive.yard == yard]


def load(path: Path) -> Settings:
    """Read and check a configuration file; file names in it are taken from the folder it stands in.

    Raises ConfigError saying what is wrong, where, and what to write instead.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ConfigError(
            f"cannot read the configuration {path}: {error.strerror}",
            hint="run `hivemon setup` to write one, or name another with --config",
        ) from error
    except UnicodeDecodeError as error:
        raise ConfigError(f"{path} is not UTF-8 text", hint="save it as UTF-8 in your editor") from error
    return _anchored(parse(text, where=str(path)), path.absolute().parent)


def parse(text: str, *, where: str = "hivemon.toml") -> Settings:
    """Check the text of a configuration; `where` names it in errors. File names in it are left as they are."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise explain_toml(error, text, where) from error
    try:
        settings = msgspec.convert(raw, Settings)
    except msgspec.ValidationError as error:
        raise explain(str(error), raw, text, where, Settings) from error
    check(settings, raw, text, where)
    return msgspec.convert(_handed_down(raw), Settings)


def _handed_down(raw: dict[str, Any]) -> dict[str, Any]:
    """Return the same with what is said for every yard written into each yard that does not say otherwise."""
    language, advice = raw.get("language", "en"), raw.get("advice", {})
    yards = [{"language": language, **y, "advice": _merged(advice, y.get("advice", {}))} for y in raw.get("yard", [])]
    return {**raw, "yard": yards}


def _merged(general: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Return both, question by question; what is a yard's own counts."""
    return {question: {**general.get(question, {}), **own.get(question, {})} for question in {**general, **own}}


def _anchored(settings: Settings, folder: Path) -> Settings:
    """Take every relative file name from the configuration's folder, so that any working directory will do."""

    def anchor(name: str | None) -> str | None:
        return None if name is None else str(folder / Path(name).expanduser())

    replace = msgspec.structs.replace
    store = replace(settings.store, path=str(folder / Path(settings.store.path).expanduser()))
    broker, influx = settings.broker, settings.influx
    if broker is not None:
        broker = replace(broker, ca_file=anchor(broker.ca_file), password_file=anchor(broker.password_file))
    if influx is not None:
        influx = replace(influx, token_file=anchor(influx.token_file), ca_file=anchor(influx.ca_file))
    pages = settings.pages
    pages = replace(
        pages,
        password_file=anchor(pages.password_file),
        scrape_token_file=anchor(pages.scrape_token_file),
        certificate=anchor(pages.certificate),
        key=anchor(pages.key),
    )
    channels = [replace(c, url_file=anchor(c.url_file), path=anchor(c.path)) for c in settings.channel]
    return replace(settings, store=store, broker=broker, influx=influx, pages=pages, channel=channels)
