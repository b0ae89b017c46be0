"""The daemon: a broker before the fold and a store behind it. `run` is the whole; `Daemon` is its engine."""

from hivemon.daemon.again import ask_again, judge_now
from hivemon.daemon.engine import Daemon
from hivemon.daemon.lock import is_running
from hivemon.daemon.run import run
from hivemon.store.daemon_state import DaemonStatus, read_status

__all__ = ["Daemon", "DaemonStatus", "ask_again", "is_running", "judge_now", "read_status", "run"]
