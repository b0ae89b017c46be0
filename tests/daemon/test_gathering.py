"""When the engine waits for more messages before it commits, and when not."""

from __future__ import annotations

from hivemon.daemon.gathering import MANY, PAUSE, REST, Gathering


def test_a_message_that_comes_alone_is_worth_a_wait():
    """However long nothing came."""
    gathering = Gathering()
    assert gathering.pause(0) == PAUSE
    gathering.learn(1, 4, PAUSE)
    assert gathering.pause(PAUSE + 1) == PAUSE


def test_where_many_come_nothing_is_waited_for():
    """A backlog comes as fast as it is acknowledged; a while later it is tried again."""
    gathering = Gathering()
    gathering.learn(2, MANY, 0)
    assert gathering.pause(REST - 1) == 0
    assert gathering.pause(REST) == PAUSE


def test_a_broker_that_sends_one_at_a_time_is_not_held_up():
    """Two waits in vain are a sign of it: what would come next hangs on the acknowledgement of this."""
    gathering = Gathering()
    gathering.learn(1, 1, 0)
    assert gathering.pause(0) == PAUSE
    gathering.learn(1, 1, 0)
    assert gathering.pause(0) == 0
    assert gathering.pause(REST) == PAUSE
