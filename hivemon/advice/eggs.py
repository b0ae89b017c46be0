"""What a beekeeper's own words say about eggs: seen, looked for in vain, or nothing one may build on."""

from __future__ import annotations

import re
from enum import StrEnum


class Eggs(StrEnum):
    """What a note of an inspection says about eggs."""

    SEEN = "seen"
    NONE = "none"
    NOT_SAID = "not-said"


_I = re.IGNORECASE
_EGGS = r"\b(?:eggs?|eieren|eiers?|eitjes?)\b"
_NO = r"(?:no|zero|nil|0|without|geen|zonder)"
_NOT = r"(?:not|cannot|never|unable|failed|niet|nooit|nergens|\w+n['’]?t)"  # noqa: RUF001 - as telephones write it
_SEE = (
    r"(?:see|saw|seen|find|found|spot|spotted|notice|visible|there|present"
    r"|zie|zien|zag|gezien|vinden|gevonden|aanwezig|zichtbaar)"
)
_FEW = r"(?:an?|any|the|more|new|fresh|young|single|visible|signs?|trace|of|de|nog|meer|nieuwe|verse|jonge|spoor|van)"

_CLAUSE = re.compile(r"[.,;!\n()]+|\s[-–]\s|\b(?:but|though|however|yet|maar|echter|wel)\b", _I)  # noqa: RUF001
_ASKED = re.compile(rf"({_EGGS})\s*\?\s*(?=\w)", _I)
_HAS = re.compile(_EGGS, _I)
_OPEN = re.compile(
    r"\?|\b(?:(?:look|check|search|wait|watch)\w*\s+(?:again\s+)?for|not? sure|unsure|maybe|perhaps|should|due"
    r"|expect\w*"
    r"|hop(?:e|ing|efully)|until|next|(?:not|n['’]t) (?:look|check)\w*|not many"  # noqa: RUF001
    r"|misschien|hopelijk|verwacht\w*|wacht\w*|moet\w*|zou\w*|volgende|niet (?:gekeken|gecontroleerd|nagekeken|veel)"
    r"|zoek\w*|gezocht|naar)\b",
    _I,
)
"""Eggs that are looked for, expected, doubted or not many: neither seen nor missing."""
_NONE = tuple(
    re.compile(pattern, _I)
    for pattern in (
        rf"\b{_NO}\s+(?:{_FEW}\s+){{0,3}}{_EGGS}",
        rf"\b(?:{_NO}|neither)\b.*\b(?:or|nor|noch|of)\s+(?:{_FEW}\s+)?{_EGGS}\W*(?:seen|found|gezien|gevonden)?\W*$",
        (
            rf"\b{_NOT}\s+(?:\w+\s+)?(?:{_SEE}\s+)?(?:(?:\w+\s+)?(?:or|of)\s+)?(?:{_FEW}\s+){{0,3}}{_EGGS}"
            rf"(?:\s+(?:{_SEE}|yet|anywhere))?\W*$"
        ),
        rf"{_EGGS}\W*(?:none|no|nil|zero|0|not|nee|geen|niet|missing|absent|afwezig)(?:\s+(?:{_SEE}|yet|te zien))?\W*$",
        rf"{_EGGS}\s+(?:\w+\s+){{0,3}}{_NOT}\s+(?:\w+\s+)?{_SEE}\W*$",
    )
)
_DENIAL = re.compile(rf"\b(?:{_NO}|{_NOT}|none|neither|nor|noch|nee)\b", _I)
_OR = re.compile(r"(?<!plenty )(?<!lots )(?<!full )(?<!couple )\b(?:or|nor|of|noch)\b", _I)
"""A list goes on ("of" is Dutch for "or", and English after a quantity)."""
_SURE = re.compile(
    rf"{_EGGS}\W*(?:\w+\s+)?(?:seen|found|ok|okay|good|fine|yes|present|gezien|gevonden|goed|ja|aanwezig)\b", _I
)


def eggs_in(note: str) -> Eggs:
    """Return what a note says about eggs, in the languages of advice; where it can be read two ways, nothing.

    It is read clause by clause, so that "no queen, but eggs" is not "no eggs". Clauses that disagree say nothing.
    """
    clauses = _CLAUSE.split(_ASKED.sub(r"\1: ", note))
    said = {_said(clause, before) for before, clause in zip(["", *clauses], clauses, strict=False)} - {Eggs.NOT_SAID}
    return said.pop() if len(said) == 1 else Eggs.NOT_SAID


def _said(clause: str, before: str) -> Eggs:
    """Return what one clause says; a denial in the clause `before` it may carry on: "no queen, brood or eggs"."""
    if not _HAS.search(clause) or _OPEN.search(clause):
        return Eggs.NOT_SAID
    if any(pattern.search(clause) for pattern in _NONE):
        return Eggs.NONE
    if _DENIAL.search(clause):
        return Eggs.NOT_SAID
    bare = _HAS.fullmatch(clause.strip()) is not None or _OR.search(clause) is not None
    carried = _DENIAL.search(before) is not None and not _SURE.search(clause)
    return Eggs.NOT_SAID if bare and carried else Eggs.SEEN
