"""Advisories as the pages show them: with what the beekeeper answered, and whether their day has passed. One place."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec

from hivemon.advice.overdue import told_now
from hivemon.advice.words import speaking
from hivemon.model import Urgency
from hivemon.morning import URGENCY_ORDER, in_reading_order, judged_at
from hivemon.notify.answers import still_to_log
from hivemon.notify.gather import answers_that_hold
from hivemon.pages.language import language
from hivemon.pages.refusal import Refusal
from hivemon.store import Answer

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.model import Advisory, Millis
    from hivemon.store import Store


class Advised(NamedTuple):
    """An open advisory. `answer`: what was answered, as long as it holds; `late`: it still asks and its day is past."""

    advisory: Advisory
    answer: Answer | None
    late: bool

    @property
    def asks(self) -> bool:
        """Whether something should be done that nobody has answered."""
        return self.answer is None and self.advisory.urgency is not Urgency.FOR_INFORMATION

    @property
    def settled(self) -> bool:
        """Whether it was done or is wrong; what was only seen is still to be done."""
        return self.answer in (Answer.DONE, Answer.WRONG)

    @property
    def need(self) -> tuple[int, bool, Millis]:
        """Sort key: what asks by urgency and by what must be done first; then news and what was answered."""
        urgency = Urgency.FOR_INFORMATION if self.answer else self.advisory.urgency
        return URGENCY_ORDER[urgency], self.advisory.do_by is None, self.advisory.do_by or 0

    def view(self) -> dict[str, Any]:
        """Return the whole advisory as the API has it, times in ms UTC."""
        whole: dict[str, Any] = msgspec.to_builtins(self.advisory)
        return {**whole, "answer": self.answer, "late": self.late}

    def brief(self) -> dict[str, Any]:
        """Return what a line needs of it."""
        found = self.advisory
        return {
            "id": found.id, "title": found.title, "urgency": found.urgency.value, "do_by": found.do_by,
            "answer": self.answer, "late": self.late,
        }  # fmt: skip


def advised(settings: Settings, store: Store, yard: str | None, clock: Millis) -> list[Advised]:
    """Return the open advisories of a yard (None: of all), what was answered last.

    Whether a day has passed is judged at `clock`; in a yard that has long been silent, at its newest reading, since all
    that is said there is of then.
    """
    found = in_reading_order(store.advisories(yard, open_only=True))
    answers = answers_that_hold(store, found, clock)
    at = {place: judged_at(store.newest(place), clock) for place in {a.yard for a in found}}
    shown = [_seen_from(a, answers.get(a.id), at[a.yard], settings) for a in found]
    return sorted(shown, key=lambda one: (one.answer is not None, one.settled, one.need))


def _seen_from(advisory: Advisory, answer: Answer | None, now: Millis, settings: Settings) -> Advised:
    """Return an advisory as it is at `now`: for today from its last day on, then in the words for what is overdue."""
    due, news = advisory.do_by, advisory.urgency is Urgency.FOR_INFORMATION
    if due is None or news or answer is not None:
        return Advised(advisory, answer, late=False)
    zone = settings.find_yard(advisory.yard).zone
    last_day, today = (datetime.fromtimestamp(when / 1000, zone).date() for when in (due, now))
    if last_day <= today and advisory.urgency is Urgency.THIS_WEEK:
        advisory = msgspec.structs.replace(advisory, urgency=Urgency.TODAY)
    with speaking(language(settings, advisory.yard)):
        return Advised(told_now(advisory, now, zone), None, late=due < now)


class NewAdviceAnswer(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a browser sends to answer an advisory."""

    advisory: str
    answer: Answer


def answer(store: Store, new: NewAdviceAnswer, *, clock: Millis) -> dict[str, Any]:
    """Keep the answer to an advisory, and return it with what still belongs in the logbook; raises Refusal."""
    found = next((a for a in store.advisories(open_only=True) if a.id == new.advisory), None)
    if found is None:
        hint = "it may be over by now: open the page again"
        raise Refusal(f"there is no advisory {new.advisory!r} that stands", code="no-advisory", hint=hint)
    store.add_answer(found, new.answer, clock)
    done = new.answer is Answer.DONE
    entry = still_to_log(found, store.entries(found.yard, since=found.raised)) if done else None
    return {"advisory": found.id, "yard": found.yard, "hive": found.hive, "answer": new.answer, "log": entry}
