"""Channels that do not wait for each other: a mail server that never answers, and what the others get meanwhile."""

import threading
import time

import pytest
from brokers import until
from letters import MAIL, PHONE, SECRET, alarm, configured, letter, mail_address
from receivers import Hook, Silent

from hivemon.config_notify import ChannelSettings
from hivemon.daemon.notifying import Notifying
from hivemon.notify.channels import make_channel
from hivemon.notify.state import NOTE
from hivemon.store import Store


@pytest.fixture
def telling(tmp_path, monkeypatch):
    """Tell people over channels until the test is over."""
    monkeypatch.setattr("hivemon.daemon.notifying.PAUSE_SECONDS", 0.05)
    monkeypatch.setattr("hivemon.daemon.notifying.LOOK_SECONDS", 0.05)
    begun = []

    def begin(*channels: ChannelSettings, **more) -> Notifying:
        begun.append(Notifying(configured(tmp_path, *channels, **more)))
        begun[0].start()
        return begun[0]

    yield begin
    for one in begun:
        one.stop(5)


def test_a_mail_server_that_never_answers_holds_up_no_other_channel(tmp_path, address, telling) -> None:
    """And each channel keeps its order; the mail is there, unsent, when the server hangs up."""
    diary = ChannelSettings(name="diary", kind="file", path=str(tmp_path / "diary"))
    with Store.open(tmp_path / "hivemon.db") as store, Silent() as silent, Hook() as hook:
        address("mail", mail_address(silent.port, SECRET))
        address("phone", f"json://127.0.0.1:{hook.port}")
        now = int(time.time() * 1000)
        store.put_advisories([alarm(now, id="0", title="Alarm 0")])
        begun = telling(MAIL, diary, PHONE)
        until(lambda: silent.callers)
        for number in range(1, 4):
            store.put_advisories([alarm(now, id=f"{number}", title=f"Alarm {number}")])
            until(lambda number=number: any(f"Alarm {number}" in title for title in hook.titles))
        assert silent.callers == 1, "the mail still waits for its first answer"
        alarms = [f"Orchard, now: Alarm {number}" for number in range(4)]
        assert [title for title in hook.titles if "Alarm" in title] == alarms
        written = tmp_path / "diary"
        until(lambda: [line for line in written.read_text().splitlines() if line in alarms] == alarms)
        until(lambda: set(store.messages_waiting()) == {"mail"})
        assert NOTE.read(store)["mail"].trying is not None
        began = time.monotonic()
        begun.stop(2)
        assert time.monotonic() - began < 3, "nor does it hold up the end"


def test_what_two_channels_of_one_library_answer_at_the_same_time_is_told_apart(tmp_path, address) -> None:
    """One waits for a silent mail server until that hangs up, while the other is refused again and again."""
    with Hook() as hook:
        hook.status = 401
        told = {}
        with Silent() as silent:
            address("mail", mail_address(silent.port, SECRET))
            address("phone", f"json://127.0.0.1:{hook.port}/{SECRET}")
            mail, phone = (make_channel(channel, configured(tmp_path)) for channel in (MAIL, PHONE))
            waiting = threading.Thread(target=lambda: told.update(mail=mail.send(letter())))
            waiting.start()
            until(lambda: silent.callers)
            told["phone"] = {phone.send(letter()) for _ in range(5)}
        waiting.join(10)
    assert told == {"mail": "it hung up", "phone": {"it does not accept the user, password or token (HTTP 401)"}}
