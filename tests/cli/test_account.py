"""The live account of the demo: each thing once, in the order in which it was said, in lines a person can follow."""

from cli_samples import DAWN, advisory, day, event
from msgspec.structs import replace

from hivemon.cli.account import Account
from hivemon.config import Settings
from hivemon.model import HOUR, Entry, LogEntry, Urgency


def texts(account: Account, days=(), events=(), advisories=(), entries=()) -> list[str]:
    return [line.text for line in account.news(days, events, advisories, entries)]


def test_a_dawn_is_one_line_with_every_hive(settings: Settings) -> None:
    """Dates are the yard's own, and the dawn's: what is told below it happened on that date."""
    account = Account(settings)
    assert texts(account, [day("o2", gain=-0.25), day("o1", gain=1.5)]) == [
        "Fri 12 Jun   o1  47.8 (+1.50)   o2  47.8 (-0.25) kg",
    ]


def test_nothing_is_told_twice(settings: Settings) -> None:
    account = Account(settings)
    entry = LogEntry(time=DAWN, hive="o1", entry=Entry.INSPECT, id=1)
    everything = ([day("o1")], [event()], [advisory()], [entry])
    assert len(texts(account, *everything)) == 4
    assert texts(account, *everything) == []


def test_lines_come_in_the_order_in_which_things_were_said(settings: Settings) -> None:
    """The swarm was raised at 19:40 the evening before, the advice at 03:40, and the day ended at 04:40."""
    entry = LogEntry(time=DAWN - 2 * HOUR, hive="o1", entry=Entry.SUPER_ON, amount=4.2, id=1)
    assert texts(Account(settings), [day("o1")], [event()], [advisory()], [entry]) == [
        "    19:40  swarm (o1): A swarm of about 15,000 bees left.",
        "    02:40  in the logbook (o1): super-on 4.2 kg",
        "           -> today: Super due",
        "Fri 12 Jun   o1  47.8 ( 0.00) kg",
    ]


def test_what_is_taken_back_is_told_again_as_such(settings: Settings) -> None:
    account = Account(settings)
    texts(account, events=[event()])
    gone = replace(event(), withdrawn=DAWN, withdrawn_because="it was a harvest")
    assert texts(account, events=[gone]) == ["    04:40  swarm (o1): taken back: A swarm of about 15,000 bees left."]


def test_urgency_and_the_yards_own_news_are_plain(settings: Settings) -> None:
    account = Account(settings)
    yard = advisory(None, urgency=Urgency.FOR_INFORMATION, title="Nectar is coming in")
    (line,) = account.news([], [event(hive=None, id="e9")], [yard])[1:]
    assert (line.style, line.text) == ("for-information", "           -> for information: Nectar is coming in")
