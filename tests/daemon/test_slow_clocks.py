"""A node whose clock is behind by a time zone is told from nodes that send late, by how equally late it is."""

import json
from pathlib import Path

import pytest

from hivemon.config import Settings, StoreSettings, YardSettings
from hivemon.daemon.judge import YardJudge
from hivemon.daemon.slow_clocks import FEWEST, NOTE
from hivemon.daemon.taking import Taking
from hivemon.intake.link import Message
from hivemon.model import HOUR, MINUTE, SECOND
from hivemon.store import Store

T0 = 1_780_000_000_000
YARD = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
EVERY = 10 * MINUTE


def message(received: int, late: int | None, *, kept: bool = False, **older: int) -> Message:
    """A pack that comes `late`; None: it has no time of its own. `older`: more readings, so much older than it."""
    records = [{"n": "weight", "v": 41.5} | ({} if late is None else {"t": (received - late) / 1000})]
    records += [{"n": name, "v": 34.5, "t": (received - late - by) / 1000} for name, by in older.items()]
    return Message("hives/orchard/o1", json.dumps(records).encode(), received, kept, (0, 0))


@pytest.fixture
def take(tmp_path):
    """Take messages in as the daemon does; return what it finds then, and has left in the store."""
    settings = Settings(yard=[YARD], store=StoreSettings(path=str(tmp_path / "hivemon.db")))
    with Store.open(Path(settings.store.path)) as store:
        taking = Taking(settings, store, {"orchard": YardJudge(settings, "orchard", store)})

        def all_of(messages: list[Message]) -> dict[str, int]:
            for one in messages:
                taking.take([one], one.received)
            taking.slow_clocks.tell(store)
            assert (NOTE.read(store) or {}) == taking.slow_clocks.behind()
            return taking.slow_clocks.behind()

        yield all_of


def each(lates: list[int | None], every: int = EVERY, begin: int = T0, **more) -> list[Message]:
    return [message(begin + n * every, late, **more) for n, late in enumerate(lates)]


def test_the_hour_of_winter_time_is_found_said_once_and_forgotten_when_it_is_mended(take, caplog):
    """Six in time, then the node puts itself back by an hour; its packs hold older readings too."""
    summer = [30 * SECOND] * 6
    assert take(each(summer, temperature=5 * MINUTE)) == {}
    winter = [HOUR + 20 * SECOND + n * 5 * SECOND for n in range(FEWEST)]
    for _ in range(2):
        assert take(each(winter, begin=T0 + 6 * EVERY, temperature=5 * MINUTE)) == {"orchard/o1": 60}
    assert caplog.text.count("orchard/o1 seems to be 1 hour behind") == 1
    assert take(each([SECOND], begin=T0 + 30 * EVERY)) == {}


@pytest.mark.parametrize(
    ("lates", "every", "more", "found"),
    [
        ([5 * HOUR] * 8, EVERY, {}, 300),
        ([3 * HOUR + HOUR // 2] * 8, HOUR, {}, 210),
        ([5 * HOUR] * (FEWEST - 1), EVERY, {}, None),  # too few to judge
        ([HOUR * 2] * 50, SECOND, {}, None),  # held up together on the way
        ([HOUR * 2 - n * EVERY for n in range(8)], EVERY, {}, None),  # a node catching up
        ([HOUR + n % 3 * 7 * MINUTE for n in range(12)], EVERY, {}, None),  # a lazy network
        ([HOUR + 12 * MINUTE] * 8, EVERY, {}, None),  # no time zone: a clock that drifts, or a slow relay
        ([None] * 8, EVERY, {}, None),  # no time of its own: the receipt counts
        ([HOUR] * 8, EVERY, {"kept": True}, None),  # kept by the broker from earlier
    ],
)
def test_only_what_is_equally_late_for_a_while_is_a_time_zone(take, lates, every, more, found):
    assert take(each(lates, every, **more)) == ({} if found is None else {"orchard/o1": found})
