"""What a demo leaves behind: a store whose season is over, and of another year."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hivemon.model import Millis
    from hivemon.store import Store


def season_over(store: "Store", last: "Millis | None", now: "Millis") -> str | None:
    """Return the name of the invented season in a store whose last reading is long past; None in any other store."""
    from hivemon.morning import STALE
    from hivemon.recordings import PLAYED

    return store.note(PLAYED) if last is not None and now - last > STALE else None


def said_of(season: str) -> str:
    """Return the line that tells a season's last morning from today's."""
    return f"This is the last morning of {season}, an invented season."
