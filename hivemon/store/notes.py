"""Small facts that one process leaves in the store for another: each a value of one type, under one name, as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar

import msgspec

if TYPE_CHECKING:
    from collections.abc import Mapping

    from hivemon.store.store import Store

Kind = TypeVar("Kind")


class Note(Generic[Kind]):
    """The note of a name. A new one takes the place of the old."""

    def __init__(self, name: str, kind: type[Kind]) -> None:
        self.name = name
        self._decoder = msgspec.json.Decoder(kind)

    def put(self, store: Store, value: Kind) -> None:
        """Leave a value. Raises StoreError."""
        store.put_note(self.name, msgspec.json.encode(value).decode())

    def read(self, store: Store) -> Kind | None:
        """Return what was left last; None when nothing was, or by a version that says it otherwise."""
        return self.read_as(store.note(self.name))

    def among(self, notes: Mapping[str, str]) -> Kind | None:
        """Return the same from notes that have been read already, by name."""
        return self.read_as(notes.get(self.name))

    def read_as(self, text: str | None) -> Kind | None:
        """Return the same from a note's text; None when there is none."""
        if text is None:
            return None
        try:
            return self._decoder.decode(text)
        except msgspec.DecodeError:
            return None
