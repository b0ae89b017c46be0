"""`hivemon answer`: seen, done or wrong; and how often the program has been right."""

import json
import time
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, JsonOption, load_settings, open_store
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.model import Advisory
    from hivemon.notify.answers import Accuracy
    from hivemon.store import Answer, Answered, Store


_MARKS = {
    "seen": "Seen, and still to be done",
    "done": "Done, you said",
    "wrong": "Wrong, you said",
}


def answered_line(advisory: "Advisory", answer: "Answer") -> str:
    """Return an advisory in a line, marked with what was answered."""
    return f"{_MARKS[answer]}: {advisory.title}"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(answer)


def answer(
    advisory: Annotated[
        str | None,
        typer.Argument(help="The advisory: its short name, its id, or a part that no other has.", show_default=False),
    ] = None,
    word: Annotated[str | None, typer.Argument(help="seen, done or wrong.", show_default=False)] = None,
    config: ConfigOption = None,
    remark: Annotated[str, typer.Option("--note", help="What it really was; kept with the answer.")] = "",
    table: Annotated[bool, typer.Option("--table", help="How often advice was given, done, and wrong.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Say that you have seen it, done it, or that it is wrong; alone: what stands.

    "Seen" silences an advisory until it changes, "done" until it becomes more urgent, "wrong" for good; as long, it is
    not counted as needing you. Every answer is kept, and "wrong" counts against the program in --table. What is done
    belongs in the logbook too: that is what is judged by.
    """
    settings = load_settings(config)
    if advisory is None:
        with open_store(settings) as store:
            if table:
                _show_table(store.advisories(), store.answers(), as_json=as_json)
            else:
                _show_standing(store.advisories(open_only=True), store.answers(), as_json=as_json)
        return
    chosen = _chosen(word)
    with open_store(settings, read_only=False) as store:
        found = _find(store.advisories(), advisory)
        store.add_answer(found, chosen, int(time.time() * 1000), remark)
        reminder = _reminder(store, found) if chosen.value == "done" else ""
    screen.tell(f"{chosen.value}: {found.title}")
    if reminder:
        screen.tell(reminder)


def _reminder(store: "Store", advisory: "Advisory") -> str:
    """Say what belongs in the logbook now that it is done; empty when it is there, or nothing does."""
    from hivemon.notify.answers import still_to_log

    entry = still_to_log(advisory, store.entries(advisory.yard, since=advisory.raised))
    if entry is None:
        return ""
    numbers = " --mites 6 --bees 300" if entry.value == "mite-wash" else ""
    command = f"hivemon log add {advisory.hive or 'HIVE'} {entry.value}{numbers}"
    return f"It still belongs in the logbook: `{command}`, with --at if it was not just now."


def _chosen(word: str | None) -> "Answer":
    from hivemon.config_words import nearest
    from hivemon.store import Answer

    known = [choice.value for choice in Answer]
    if word is None:
        raise UsageError("an answer is missing", hint=f"write {', '.join(known[:-1])} or {known[-1]} after the id")
    if word.lower() not in known:
        near = nearest(word, known)
        hint = f"did you mean {near}?" if near else f"write {', '.join(known[:-1])} or {known[-1]}"
        raise UsageError(f"{word!r} is no answer", hint=hint)
    return Answer(word.lower())


def _find(advisories: "Sequence[Advisory]", part: str) -> "Advisory":
    """Return the advisory meant: by its whole id, else the standing one, else the only one with that part in its id."""
    from hivemon.advice.draft import short_names

    standing = [a for a in advisories if a.closed is None]
    for group in (
        [a for a in advisories if a.id == part],
        [a for a in standing if a.id.startswith((f"{part}:", f"{part}@"))],
        [a for a in standing if part in a.id],
        [a for a in advisories if part in a.id],
    ):
        if len(group) == 1:
            return group[0]
        if group:
            some = ", ".join(list(short_names(a.id for a in group).values())[:5])
            raise UsageError(f"{part!r} may mean {len(group)} of them: {some}", hint="write more of the one you mean")
    raise UsageError(
        f"there is no advisory {part!r}", hint="`hivemon answer` alone lists what stands, and how to name it"
    )


def _show_standing(advisories: "Sequence[Advisory]", answers: "Mapping[str, Answered]", *, as_json: bool) -> None:
    from hivemon.advice.draft import short_names
    from hivemon.morning import in_reading_order

    ordered = in_reading_order(advisories)
    if as_json:
        objects = [
            {"id": a.id, "title": a.title, "answer": answers[a.id].answer.value if a.id in answers else None}
            for a in ordered
        ]
        screen.say(json.dumps(objects, indent=2, ensure_ascii=False))
        return
    short = short_names(a.id for a in ordered)
    for found in ordered:
        answered = f" ({answers[found.id].answer.value})" if found.id in answers else ""
        screen.say(f"{short[found.id]}{answered}")
        screen.tell(f"    {found.title}")
    if not ordered:
        screen.tell("Nothing stands: nothing to answer.")
        return
    example = short[ordered[0].id]
    screen.say()
    screen.tell(f"Answer seen, done or wrong; for the first: hivemon answer {example} done")


def _show_table(advisories: "Sequence[Advisory]", answers: "Mapping[str, Answered]", *, as_json: bool) -> None:
    from hivemon.cli.display import plain_table
    from hivemon.notify.answers import accuracy

    lines = accuracy(advisories, answers)
    if as_json:
        screen.say(json.dumps([_counts(line) for line in lines], indent=2))
    elif not lines:
        screen.tell("No advice has been given yet.")
    else:
        head = ["Advice", "given", "seen", "done", "wrong", "no answer"]
        screen.say(plain_table(head, [[str(v) for v in _counts(line).values()] for line in lines], right=range(1, 6)))


def _counts(line: "Accuracy") -> dict[str, str | int]:
    return {"topic": line.topic, "given": line.given, "seen": line.seen, "done": line.done, "wrong": line.wrong,
            "unanswered": line.unanswered}  # fmt: skip
