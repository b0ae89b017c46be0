"""JSON pointers (RFC 6901): which number in a payload is meant."""

from __future__ import annotations

import re
from typing import Any

from hivemon.errors import Unusable

_INDEX = re.compile(r"(0|[1-9][0-9]*)\Z")
_BAD_ESCAPE = re.compile(r"~(?![01])")


def parse_pointer(text: str) -> tuple[str, ...]:
    """Split a pointer into reference tokens with `~1` and `~0` resolved; the empty pointer is the whole document.

    Raises:
        ValueError: It does not start with "/" or holds a "~" followed by neither 0 nor 1 (RFC 6901 section 3).
    """
    if not text:
        return ()
    if not text.startswith("/"):
        raise ValueError(f"the pointer {text!r} does not start with '/'")
    if _BAD_ESCAPE.search(text):
        raise ValueError(f"the pointer {text!r} holds a '~' that is neither '~0' nor '~1'")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in text[1:].split("/"))


def follow(document: Any, tokens: tuple[str, ...]) -> Any:
    """Return what the tokens lead to (RFC 6901 section 4); raises Unusable naming the token that leads nowhere."""
    here = document
    for token in tokens:
        if isinstance(here, dict) and token in here:
            here = here[token]
        elif isinstance(here, list) and _INDEX.match(token) and int(token) < len(here):
            here = here[int(token)]
        else:
            raise Unusable(f"the payload has nothing at {token!r} of the pointer {write_pointer(tokens)!r}")
    return here


def write_pointer(tokens: tuple[str, ...]) -> str:
    """Return the pointer made of reference tokens, `~` and `/` in them escaped (RFC 6901 section 3)."""
    return "".join("/" + token.replace("~", "~0").replace("/", "~1") for token in tokens)
