"""Where secrets come from: a file of their own or the environment. Never logged, never shown, never in hivemon.toml."""

from __future__ import annotations

import os
from pathlib import Path

from hivemon.errors import ConfigError


def secret(file: str | None, variable: str, key: str) -> str | None:
    """Read a secret from a file or, failing that, from the environment; None when neither has it.

    `key` names the setting in errors. Raises ConfigError when the file cannot be read.
    """
    if file is None:
        return os.environ.get(variable)
    try:
        return Path(file).expanduser().read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ConfigError(
            f"cannot read {key} = {file!r}: {error.strerror}",
            hint=f"write the secret into that file, or leave {key} out and set {variable}",
        ) from error
    except UnicodeDecodeError as error:
        raise ConfigError(f"{key} = {file!r} is not UTF-8 text", hint="save it as UTF-8") from error
