"""A message as JSON, for a file and for MQTT."""

from __future__ import annotations

import msgspec

from hivemon.model import rfc3339
from hivemon.store.notices import Message, Sort


def to_json(message: Message) -> bytes:
    """Return a message as a JSON object on one line; `time` in RFC 3339 (UTC), `yard` null where it is about none."""
    return msgspec.json.encode(
        {
            "time": rfc3339(message.created),
            "yard": message.yard or None,
            "sort": message.sort.value,
            "urgent": message.urgent,
            "title": message.title,
            "text": message.text,
            "advisories": message.advisories,
        },
    )


def topic_of(message: Message, root: str) -> str:
    """Return a message's MQTT topic: `<root>/<yard>/note` or `advice`, or about no yard `<root>/trouble` or `test`."""
    place = f"{root}/{message.yard}" if message.sort in (Sort.NOTE, Sort.ADVICE) else root
    return f"{place}/{message.sort.value}"
