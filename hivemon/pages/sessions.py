"""Who is who: sessions by cookie, one guest link that may only look. Tokens are kept as hashes, never as they are."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec

from hivemon.model import DAY, Millis
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from hivemon.store import Store

LASTS: Millis = 30 * DAY
"""A session ends this long after it began."""
MOST = 50
"""Sessions at a time; the oldest goes."""


class Role(StrEnum):
    """What a visitor may do: an owner everything, a guest look."""

    OWNER = "owner"
    GUEST = "guest"


class Session(msgspec.Struct, frozen=True, kw_only=True):
    """One browser. `csrf` must come back in a header with everything that changes something."""

    role: Role
    csrf: str
    began: Millis


class _Kept(msgspec.Struct, frozen=True, kw_only=True):
    """What stands in the store: sessions by the hash of their token, and the hash of the guest link's."""

    sessions: dict[str, Session] = {}
    guest: str = ""


_KEPT = Note("pages-sessions", _Kept)
"""Where they stand in the store, so that a restart logs nobody out."""


class Sessions:
    """The sessions and the guest link. Whoever changes them has them kept with `keep`."""

    def __init__(self) -> None:
        self._sessions: dict[str, Session] = {}
        self._guest = ""

    def recall(self, store: Store) -> None:
        """Take over what the last run kept; what cannot be read is forgotten, and people log in again."""
        kept = _KEPT.read(store) or _Kept()
        self._sessions, self._guest = dict(kept.sessions), kept.guest

    def keep(self, store: Store) -> None:
        """Write them down."""
        _KEPT.put(store, _Kept(sessions=self._sessions, guest=self._guest))

    def begin(self, role: Role, now: Millis) -> str:
        """Begin a session and return its token, for the cookie."""
        token = secrets.token_urlsafe(32)
        self._sessions[_hashed(token)] = Session(role=role, csrf=secrets.token_urlsafe(24), began=now)
        while len(self._sessions) > MOST:
            del self._sessions[min(self._sessions, key=lambda name: self._sessions[name].began)]
        return token

    def find(self, token: str | None, now: Millis) -> Session | None:
        """Return the session of a token, or None when there is none or it has ended."""
        found = self._sessions.get(_hashed(token)) if token else None
        return found if found is not None and now - found.began < LASTS else None

    def end(self, token: str | None) -> None:
        """End a session."""
        self._sessions.pop(_hashed(token or ""), None)

    def new_guest_link(self) -> str:
        """Return the token of a new guest link; the old link and its guests are shut out."""
        token = secrets.token_urlsafe(24)
        self.end_guest_link()
        self._guest = _hashed(token)
        return token

    def end_guest_link(self) -> None:
        """Shut out all guests."""
        self._guest = ""
        self._sessions = {name: s for name, s in self._sessions.items() if s.role is not Role.GUEST}

    def is_guest(self, token: str) -> bool:
        """Tell whether a token is that of the guest link."""
        return bool(self._guest) and hmac.compare_digest(self._guest, _hashed(token))


def _hashed(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
