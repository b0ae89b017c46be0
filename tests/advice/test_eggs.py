"""What notes say about eggs, in both languages: a wrong "seen" hides a lost queen."""

import pytest

from hivemon.advice.eggs import Eggs, eggs_in

SEEN = (
    "eggs",
    "Eggs!",
    "eggs on two frames",
    "saw an egg",
    "eggs seen, queen not",
    "eggs: yes",
    "eggs? yes",
    "no queen seen, eggs ok",
    "no queen, but eggs",
    "no queen but plenty of eggs",
    "no problems, eggs and brood",
    "didn't see the queen, eggs on frame 4",
    "queen not seen but fresh eggs",
    "eggs and larvae; no queen cells",
    "eggs - no queen",
    "found eggs, closed up. Not opened again.",
    "eitjes gezien",
    "geen koningin gezien, wel eitjes",
    "geen koningin, maar eieren",
    "geen problemen, eitjes en larven",
    "koningin niet gezien, eitjes goed",
)
NONE = (
    "no eggs",
    "No fresh eggs yet",
    "no eggs seen",
    "no new eggs, brood capped",
    "not a single egg",
    "no sign of eggs",
    "queen seen but no eggs",
    "no queen, no eggs",
    "no queen and no eggs",
    "no brood or eggs",
    "neither queen nor eggs",
    "didn't see eggs",
    "didn't see any eggs",
    "didn’t see any eggs",  # noqa: RUF001 - as telephones write it
    "didnt see any eggs",
    "did not see any fresh eggs",
    "could not find any new eggs",
    "couldn't find eggs",
    "never saw any eggs",
    "eggs: none",
    "eggs none",
    "eggs? no",
    "eggs: not seen",
    "eggs not found",
    "eggs could not be found",
    "without eggs",
    "nog geen eitjes",
    "geen eieren",
    "geen eiers gezien",
    "geen broed of eitjes",
    "geen spoor van eitjes",
    "eitjes niet gezien",
    "eitjes: geen",
    "eieren heb ik niet gezien",
    "zonder eitjes",
)
NOT_SAID = (
    "",
    "queen seen",
    "eggs?",
    "did not look for eggs",
    "did not check for eggs",
    "look for eggs next week",
    "eggs due on Saturday",
    "maybe eggs",
    "not sure about eggs",
    "not many eggs",
    "no queen, brood or eggs",
    "no queen and eggs",
    "no eggs in the lower box, eggs in the upper one",
    "eggshells of a moth",
    "niet naar eitjes gekeken",
    "misschien eitjes",
    "geen koningin, larven of eitjes",
    "eitjes verwacht op zaterdag",
)  # fmt: skip
CASES = [(note, said) for said, notes in zip(Eggs, (SEEN, NONE, NOT_SAID), strict=True) for note in notes]


@pytest.mark.parametrize(("note", "said"), CASES)
def test_a_note_about_eggs(note: str, said: Eggs) -> None:
    assert eggs_in(note) is said
