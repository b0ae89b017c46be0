"""The systemd unit that `hivemon service` writes: a watchdog, and no more rights than the work needs. Pure.

systemd.service(5) and systemd.exec(5) say what each line does; a comment says why where it is not plain.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.config import Settings

WATCHDOG_MINUTES = 10
"""Far above the 15 s between two beats: a small board that judges a changed month anew is busy, not hung."""
_PRIVILEGED = 1024
"""Ports below this are the administrator's to give (services(5))."""

_UNIT = """\
# Written by `hivemon service`; write it anew after hivemon or its configuration has moved.
[Unit]
Description=hivemon watches beehives and says what needs doing
# Only the order: it starts without them too, and waits for a broker that is away.
After=network-online.target time-sync.target mosquitto.service
Wants=network-online.target
# It never gives up: a full disk may be made room on tomorrow.
StartLimitIntervalSec=0

[Service]
Type=notify
{disk}ExecStart={program} run --config {config}
User={account}
# Secrets that stand in no file of hivemon.toml's, as HIVEMON_BROKER_PASSWORD=...; need not be there.
EnvironmentFile=-{environment}
Restart=always
RestartSec=10
# A mistake in hivemon.toml is not mended by trying again.
RestartPreventExitStatus=3
# At the start it first judges what was left over; after that it beats only when a write has reached the store.
TimeoutStartSec=infinity
WatchdogSec={watchdog}min
TimeoutStopSec=30

# It may write here and nowhere else.
ProtectSystem=strict
ReadWritePaths={writable}
ProtectHome={home}
PrivateTmp=yes
UMask=0077

PrivateDevices=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
RemoveIPC=yes
KeyringMode=private

NoNewPrivileges=yes
{ports}
LockPersonality=yes
MemoryDenyWriteExecute=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallErrorNumber=EPERM
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources

[Install]
WantedBy=multi-user.target
"""

_DISK = """\
# The store's disk must be mounted, or an empty store would be begun in the folder where it belongs; until then it is
# tried again. The plus: looked at from outside, since the service's own view of that folder is a mount in any case.
ExecStartPre=+mountpoint -q {disk}
"""

_NO_PORTS = "CapabilityBoundingSet=\nPrivateUsers=yes"
_LOW_PORTS = (
    "# For a port below 1024.\nCapabilityBoundingSet=CAP_NET_BIND_SERVICE\nAmbientCapabilities=CAP_NET_BIND_SERVICE"
)


def unit(program: Path, config: Path, settings: Settings, account: str, disk: Path | None = None) -> str:
    """Return the unit's text.

    Args:
        program: The `hivemon` command, an absolute path.
        config: The configuration, an absolute path.
        settings: What stands in it; says what must be writable and which ports are opened.
        account: Whose rights the service has.
        disk: Where the disk of the store is mounted, if it has one of its own.

    Raises:
        UsageError: A path holds a line break, which no unit can name.
    """
    writable = {Path(settings.store.path).parent, *(Path(c.path).parent for c in settings.channel if c.path)}
    return _UNIT.format(
        program=_quoted(program).replace("$", "$$"),
        config=_quoted(config).replace("$", "$$"),
        account=account,
        disk=_DISK.format(disk=_quoted(disk).replace("$", "$$")) if disk is not None else "",
        environment=_plain(config.with_name("hivemon.env")),
        watchdog=WATCHDOG_MINUTES,
        writable=" ".join(sorted(map(_quoted, writable))),
        home="read-only" if any(map(_in_a_home, [program, config, *writable])) else "yes",
        ports=_LOW_PORTS if any(port < _PRIVILEGED for port in _ports(settings)) else _NO_PORTS,
    )


def _ports(settings: Settings) -> Iterable[int]:
    if settings.pages.on:
        yield settings.pages.port
    if settings.broker is None:
        yield settings.embedded.port


def _in_a_home(path: Path) -> bool:
    """Whether ProtectHome=yes would hide it (systemd.exec(5))."""
    return any(path.is_relative_to(home) for home in ("/home", "/root", "/run/user"))


def _plain(path: Path) -> str:
    """Return a path with what systemd would replace in it written twice (systemd.unit(5), specifiers)."""
    text = str(path)
    if any(sign in text for sign in "\n\r"):
        raise UsageError(f"the path {text!r} holds a line break, and no unit can name it", hint="rename the folder")
    return text.replace("%", "%%")


def _quoted(path: Path) -> str:
    """Return a path as one word (systemd.syntax(7), quoting)."""
    return '"' + _plain(path).replace("\\", "\\\\").replace('"', '\\"') + '"'
