"""Changes to hivemon.toml that leave its comments, its order and everything else as the beekeeper wrote it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import tomlkit

from hivemon.config import parse
from hivemon.errors import ConfigError, InputError
from hivemon.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


def change_device(path: Path, topic: str, pointer: str, values: Mapping[str, float | str]) -> None:
    """Set keys of the one `[[device]]` with this topic and pointer (empty for a plain number); whole or not at all.

    Raises:
        ConfigError: There is no such table, or the file would not load afterwards.
        InputError: The file cannot be written.
    """
    document: Any = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    fitting = [
        table
        for table in document.get("device", [])
        if table.get("topic") == topic and table.get("pointer", "") == pointer
    ]
    if len(fitting) != 1:
        where = f"{topic}#{pointer}" if pointer else topic
        raise ConfigError(f"{path} has no [[device]] for {where}", hint="`hivemon setup --sensors` finds and writes it")
    for key, value in values.items():
        fitting[0][key] = value
    text = tomlkit.dumps(document)
    parse(text, where=str(path))
    try:
        write_whole(path, text.encode())
    except OSError as error:
        raise InputError(f"cannot write {path}: {error.strerror}", hint="look at the rights of its folder") from error
