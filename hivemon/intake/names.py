"""What ids and numbers look like in messages and files."""

from __future__ import annotations

import re

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")
_NUMBER = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*\Z", re.ASCII)


def is_id(text: str) -> bool:
    """Tell whether a text can be the id of a yard or a hive: the characters that `config.Name` takes."""
    return _ID.match(text) is not None


def is_number(text: str) -> bool:
    """Tell whether a text is a decimal number with a point, perhaps with blanks around it."""
    return _NUMBER.match(text) is not None
