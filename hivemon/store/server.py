"""One request to an InfluxDB through influxdb-client, and what its answer means."""

from __future__ import annotations

import json
import ssl
from enum import Enum, auto
from typing import TYPE_CHECKING, NamedTuple

from hivemon import certificates
from hivemon.model import SECOND, Millis
from hivemon.store.client import MILLISECONDS, SYNCHRONOUS, ApiException, HTTPError, InfluxDBClient

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import InfluxSettings

TIMEOUT: Millis = 15 * SECOND
_DETAIL = 200
"""Characters of a server's own words that are shown."""
_REFUSALS = (400, 413, 422)
_FORBIDDEN = (401, 403)
_LATER = (408, 425, 429)
_SERVER_TROUBLE = 500
_LONGEST_NUMBER = 6
"""Digits of a Retry-After that is still worth believing: eleven days."""


class Answer(Enum):
    """What an answer means for the points that were sent."""

    ACCEPTED = auto()
    REFUSED = auto()
    """One of the points, or their number, is the trouble: send them in smaller parts."""
    AWAY = auto()
    """Nothing wrong with the points: later."""
    FORBIDDEN = auto()
    """The token is not accepted."""
    NOT_READY = auto()
    """The server knows no such bucket or organisation, or it is no InfluxDB."""


class Reply(NamedTuple):
    """An answer in plain words; `wait` is how long the server asks to be left alone, ms."""

    answer: Answer
    detail: str = ""
    wait: Millis = 0


class InfluxServer:
    """A server's write API. Raises ConfigError when the token or the authority's certificate cannot be read."""

    def __init__(self, settings: InfluxSettings) -> None:
        certificates.context(settings.ca_file, "influx.ca_file")  # the library would say it less plainly, and later
        self._bucket = settings.bucket
        self._org = settings.org
        self._client = InfluxDBClient(
            url=settings.url,
            token=settings.token(),
            org=settings.org,
            timeout=TIMEOUT,
            enable_gzip=True,
            ssl_ca_cert=settings.ca_file,
            retries=False,  # the sender waits and tries again; a second clockwork inside would hide it
        )
        self._writer = self._client.write_api(write_options=SYNCHRONOUS)

    def write(self, lines: Sequence[str]) -> Reply:
        """Try to write lines of line protocol; every outcome is a reply."""
        try:
            self._writer.write(
                bucket=self._bucket,
                org=self._org,
                record="\n".join(lines),
                write_precision=MILLISECONDS,
            )
        except ApiException as error:
            if not error.status:  # how the library says that TLS did not come about
                return Reply(Answer.AWAY, _no_answer(error))
            return judge(error.status, _words(error), error.headers or {})
        except (HTTPError, OSError) as error:
            return Reply(Answer.AWAY, _no_answer(error))
        return Reply(Answer.ACCEPTED)

    def close(self) -> None:
        """Let go of the connections."""
        self._client.close()


def judge(status: int | None, words: str, headers: dict[str, str] | object) -> Reply:
    """Say what an HTTP status means for the points sent.

    The statuses are those of the InfluxDB 2.x write API (docs.influxdata.com, POST /api/v2/write); a redirect means
    that the address is wrong.
    """
    detail = f"HTTP {status}: {words}" if words else f"HTTP {status}"
    if status in _REFUSALS:
        return Reply(Answer.REFUSED, detail)
    if status in _FORBIDDEN:
        return Reply(Answer.FORBIDDEN, f"the token is not accepted ({detail}); see influx.token_file")
    if status is not None and (status in _LATER or status >= _SERVER_TROUBLE):
        return Reply(Answer.AWAY, detail, _wait(headers))
    return Reply(Answer.NOT_READY, f"{detail}; see influx.url, influx.org and influx.bucket")


def _no_answer(error: BaseException) -> str:
    """Say why there was no answer: what is wrong with the certificate, or the library's name for the trouble."""
    cause: BaseException | None = error
    while cause is not None:
        if isinstance(cause, ssl.SSLCertVerificationError):
            return certificates.explain(cause, ca_file="influx.ca_file", host="the host in influx.url")
        inner = [getattr(cause, "reason", None), *cause.args, cause.__cause__, cause.__context__]
        cause = next((found for found in inner if isinstance(found, BaseException)), None)
    return f"no answer ({type(error).__name__})"


def _wait(headers: dict[str, str] | object) -> Millis:
    """Return Retry-After in ms (RFC 9110, section 10.2.3; the seconds form, which is the one InfluxDB uses)."""
    text = str(headers.get("Retry-After", "")) if hasattr(headers, "get") else ""
    return int(text) * SECOND if text.isascii() and text.isdigit() and len(text) <= _LONGEST_NUMBER else 0


def _words(error: ApiException) -> str:
    """Return the server's own words, short and on one line."""
    body = error.body or ""
    text = body.decode("utf-8", "replace") if isinstance(body, bytes) else str(body)
    try:
        answer = json.loads(text)
    except ValueError:
        answer = None
    if isinstance(answer, dict):
        text = str(answer.get("message") or answer.get("error") or text)
    return " ".join(text.split())[:_DETAIL]
