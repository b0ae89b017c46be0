"""What the pages cannot do for a person, with a code by which they say it in the person's language."""

from __future__ import annotations

from hivemon.errors import UsageError


class Refusal(UsageError):  # noqa: N818 - an answer, not a failure of the program
    """A question that cannot be answered or an entry that cannot be; `code` is a key of the pages' `refusals`."""

    def __init__(self, message: str, *, code: str, hint: str = "") -> None:
        super().__init__(message, hint=hint)
        self.code = code
