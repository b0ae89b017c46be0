"""The password of the pages: kept as an Argon2id hash (RFC 9106), in a file that only its owner may read."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from hivemon.errors import ConfigError, UsageError
from hivemon.files import write_whole

if TYPE_CHECKING:
    from hivemon.config import PagesSettings

SHORTEST = 10
"""Characters: short ones are guessed. Our rule; NIST SP 800-63B-4 asks for 15 where a password stands alone, 8 beside
a second factor; ten with Argon2 and a limit on tries is our compromise for a beeyard."""
LONGEST = 200

_HASHER = PasswordHasher()
"""The library's defaults are the second recommended option of RFC 9106: 64 MiB, 3 passes, 4 lanes."""


def keep(path: Path, password: str) -> None:
    """Write a password's hash; raises UsageError for a password that is too short, ConfigError when it cannot write."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise UsageError(f"a password of {len(password)} characters", hint=f"take {SHORTEST} to {LONGEST}")
    before = os.umask(0o077)
    try:
        write_whole(path, f"{_HASHER.hash(password)}\n".encode())
        path.chmod(0o600)
    except OSError as error:
        hint = "look at the folder's rights and room"
        raise ConfigError(f"cannot write pages.password_file {path}: {error.strerror}", hint=hint) from error
    finally:
        os.umask(before)


def read(settings: PagesSettings) -> str | None:
    """Return the hash; None where no password is wanted. Raises ConfigError when it cannot be read or is no hash."""
    if settings.password_file is None:
        return None
    hint = "run `hivemon password` to write it"
    try:
        found = Path(settings.password_file).read_text(encoding="ascii").strip()
    except OSError as error:
        raise ConfigError(f"cannot read pages.password_file: {error.strerror}", hint=hint) from error
    except UnicodeDecodeError as error:
        raise ConfigError("pages.password_file holds no password hash", hint=hint) from error
    if not found.startswith("$argon2id$"):
        raise ConfigError("pages.password_file holds no password hash", hint=hint)
    return found


def matches(kept: str, given: str) -> bool:
    """Tell whether a password is the one whose hash is kept; takes about a tenth of a second on purpose."""
    try:
        return _HASHER.verify(kept, given)
    except (VerificationError, InvalidHashError):
        return False
