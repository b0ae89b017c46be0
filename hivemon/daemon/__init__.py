"""The daemon: a broker before the fold and a store behind it. `run` is the whole; `Daemon` is its engine.

Names are fetched when they are first used: who only asks whether a daemon runs (`hivemon health`, a watchdog, every few
minutes) must not pay for the fold's imports, which take seconds on a small board.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from hivemon.daemon.again import ask_again, judge_now
    from hivemon.daemon.engine import Daemon
    from hivemon.daemon.lock import is_running
    from hivemon.daemon.run import run
    from hivemon.store.daemon_state import DaemonStatus, read_status

__all__ = ["Daemon", "DaemonStatus", "ask_again", "is_running", "judge_now", "read_status", "run"]

_HOME = {
    "ask_again": "hivemon.daemon.again",
    "judge_now": "hivemon.daemon.again",
    "Daemon": "hivemon.daemon.engine",
    "is_running": "hivemon.daemon.lock",
    "run": "hivemon.daemon.run",
    "DaemonStatus": "hivemon.store.daemon_state",
    "read_status": "hivemon.store.daemon_state",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(_HOME[name]), name)  # for good: one of them is named as its module
    return found
