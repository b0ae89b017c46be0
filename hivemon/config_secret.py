"""Where secrets come from: a file of their own or the environment. Never logged, never shown, never in hivemon.toml."""

from __future__ import annotations

import logging
import os
import stat
from pathlib import Path

from hivemon.errors import ConfigError

log = logging.getLogger("hivemon.config")

_told: set[str] = set()
"""Files whose loose rights were said already."""


def secret(file: str | None, variable: str, key: str) -> str | None:
    """Read a secret from a file or, failing that, from the environment; None when neither has it.

    `key` names the setting in errors. Raises ConfigError when the file cannot be read.
    """
    if file is None:
        return os.environ.get(variable)
    try:
        path = Path(file).expanduser()
        if path.stat().st_mode & stat.S_IROTH and file not in _told:
            _told.add(file)
            log.warning("%s = %r can be read by everyone on this machine: chmod 600 shuts it", key, file)
        return path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ConfigError(
            f"cannot read {key} = {file!r}: {error.strerror}",
            hint=f"write the secret into that file, or leave {key} out and set {variable}",
        ) from error
    except UnicodeDecodeError as error:
        raise ConfigError(f"{key} = {file!r} is not UTF-8 text", hint="save it as UTF-8") from error
