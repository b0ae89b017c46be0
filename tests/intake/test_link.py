"""What the link says about itself: waiting times and reasons."""

import socket

import pytest

from hivemon.config import BrokerSettings
from hivemon.intake.link import LONGEST_WAIT, STEADY_SECONDS, Backoff, explain_error, explain_reason

BROKER = BrokerSettings(host="bees.example", client_id="watcher")


def test_waits_double_to_a_minute_and_begin_anew_after_a_steady_connection():
    backoff = Backoff()
    waits = [backoff.next(0.0) for _ in range(12)]
    for wait, middle in zip(waits, [1, 2, 4, 8, 16, 32, 60, 60], strict=False):
        assert middle * 0.75 <= wait <= min(middle * 1.25, LONGEST_WAIT)
    assert backoff.next(STEADY_SECONDS) <= 1.25


def test_waits_differ_so_that_many_clients_do_not_come_at_once():
    assert len({Backoff().next(0.0) for _ in range(20)}) == 20


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (socket.gaierror(-2, "Name or service not known"), "'bees.example' is unknown"),
        (ConnectionRefusedError(111, "Connection refused"), "nothing listens"),
        (ConnectionResetError(104, "Connection reset by peer"), "TLS port"),
        (TimeoutError("timed out"), "does not answer"),
        (OSError(113, "No route to host"), "No route to host"),
    ],
)
def test_failures_to_connect_are_said_in_plain_words(error, words):
    assert words in explain_error(error, BROKER)


@pytest.mark.parametrize(
    ("code", "words"),
    [(133, "'watcher'"), (134, "password"), (135, "access rules"), (142, "broker.client_id"), (151, "Quota exceeded")],
)
def test_refusals_are_said_in_plain_words(code, words):
    """Codes of MQTT 5.0 section 2.4."""
    assert words in explain_reason(code, "Quota exceeded", BROKER)
