"""Which language the pages speak."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hivemon.config import Language, Settings


def language(settings: Settings, yard: str | None = None) -> Language:
    """Return a yard's language; where it is about all of them (None), theirs if they agree, else the whole file's.

    A yard that is not there speaks as all do: whoever asked for it is told so in words.
    """
    spoken = {place.id: place.language or settings.language for place in settings.yard}
    if yard in spoken:
        return spoken[yard]
    one, *others = set(spoken.values()) or {settings.language}
    return settings.language if others else one
