"""Messages and configurations as broken devices and hurried people make them: good ones, mutated at random.

What may happen to one is known: it becomes readings or settings, or it is refused with a reason. All else is a crash.
"""

import math
import random
from collections import Counter
from pathlib import Path

from hivemon.config import parse
from hivemon.errors import ConfigError, Unusable
from hivemon.intake.moments import FUTURE
from hivemon.intake.translate import Translator
from hivemon.intake.units import LIMITS

RECEIVED = 1_781_265_600_000
CONFIG = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[[device]]
topic = "shed/1/weight"
yard = "orchard"
hive = "o1"
quantity = "weight"
unit = "lb"
scale = 2.0
offset = -1.5

[[device]]
topic = "shed/2"
form = "json"
pointer = "/sensors/0/t"
time_pointer = "/at"
yard = "orchard"
hive = "o2"
quantity = "temperature"
unit = "degF"
"""
MESSAGES = [
    ("hives/orchard/o1", b'[{"bt":1781265600,"n":"weight","u":"kg","v":48.21},{"n":"temperature","u":"Cel","v":34.9}]'),
    (
        "hives/orchard/o1",
        b'[{"bn":"urn:dev:ow:10e2073a01080063:","bver":10,"bu":"kg","n":"weight","v":41,"t":-5,"ut":9}]',
    ),
    (
        "hives/orchard",
        b'[{"n":"rain","u":"mm","v":0.2},{"n":"outside-humidity","vs":"wet"},{"n":"battery","s":3,"vb":true}]',
    ),
    ("shed/1/weight", b"103.5"),
    ("shed/2", b'{"at":"2026-06-12T12:00:00Z","sensors":[{"t":93.2}]}'),
    ("hives/orchard/o1", b'[{"n":"humidity","bs":1e3,"bv":-2.5e1,"v":61,"x":{"y_":[1]},"u":"%RH","t":1781265600.5}]'),
]
WORDS = [
    b"null", b"true", b"1e999", b"-1e-999", b"NaN", b"-0", b"[]", b"{}", b'""', b"\\u0000", b"\\ud800", b"\xff\xfe",
    b"\x00",
    b'"bt":', b'"t":', b'"v":', b'"n":"weight"', b"18446744073709551616", b"[[[[[[[[", b"}]", b"{", b",", b"268435456",
    b"-268435456", b'"u":"lon"', b"9" * 40, "\u2028é".encode(),
]  # fmt: skip
TOPICS = ["hives/orchard/o1", "hives/orchard", "hives/orchard/+", "hives//", "hives/elsewhere/o1", "shed/2",
          "shed/1/weight", "", "hives/orchard/" + "x" * 99, "hives/orchard/\x00", "$SYS/a",
          "hives/orchard/o1/weight"]  # fmt: skip
LINES = [
    "[[yard]]", "[yard]", 'id = "a"', "latitude = 91", "longitude = nan", 'timezone = "Mars"', "[broker]",
    'host = ""', "port = -1",
    "[[channel]]", 'kind = "apprise"', "[store]", "raw_days = 1e9", 'path = "\\u0000"', "[rules.swarm]", "x = inf",
    "[notify]", 'morning = "25:00"', 'quiet = "21:00/21:00"', 'away = ["2026-02-30/2026-02-31"]', "[influx]",
    'url = "http://a:b@c"', "language = 3", "[[hive]]", "brood_boxes = -2", 'yard = "b"', "= ", '"""', "a.b.c = [[]]",
    "[pages]", 'bind = "0.0.0.0"', "on = 1", "[advice.mites]", "threshold_percent = -1", "\ufeff", "d = 2026-01-01",
]  # fmt: skip


def mutated(payload: bytes, chance: random.Random) -> bytes:
    """Change a payload in a few places: bits, pieces gone, doubled, moved, and words put in."""
    made = bytearray(payload)
    for _ in range(chance.choice((1, 1, 1, 2, 6))):
        at = chance.randint(0, len(made))
        to = min(at + chance.choice((1, 1, 2, 5, len(made))), len(made))
        how = chance.randrange(6)
        if how == 0 and made:
            made[min(at, len(made) - 1)] ^= 1 << chance.randrange(8)
        elif how == 1:
            del made[at:to]
        elif how == 2:
            made[at:at] = made[at:to]
        elif how == 3:
            made[at:to] = chance.choice(WORDS)
        elif how == 4:
            made[at:at] = chance.choice(WORDS)
        else:
            made[at:at] = chance.randbytes(chance.randint(1, 6))
    return bytes(made)


def mutated_config(text: str, chance: random.Random) -> str:
    """Change a configuration as people do: lines gone, doubled, moved, strange ones put in, letters slipped."""
    lines = text.split("\n")
    for _ in range(chance.choice((1, 1, 2, 4))):
        at, how = chance.randrange(len(lines) + 1), chance.randrange(4)
        if how == 0:
            del lines[at : at + chance.randint(1, 3)]
        elif how == 1:
            lines[at:at] = [chance.choice(LINES)]
        elif how == 2 and lines:
            lines[at:at] = [chance.choice(lines)]
        elif lines:
            line = min(at, len(lines) - 1)
            lines[line] = mutated(lines[line].encode(), chance).decode(errors="replace")
    return "\n".join(lines) or "\n"


class Payloads:
    """Tries payloads on one translator, as the daemon has one."""

    def __init__(self) -> None:
        self.counts = Counter()
        self._translator = Translator(parse(CONFIG))

    def try_one(self, topic: str, payload: bytes, *, retained: bool = False) -> None:
        """Translate; raises whatever is neither readings within all limits nor a refusal in words."""
        try:
            found = self._translator.translate(topic, payload, RECEIVED, retained=retained)
        except Unusable as error:
            self._refused(error)
            return
        for reading in found.readings:
            low, high = LIMITS[reading.quantity]
            assert math.isfinite(reading.value)
            assert low <= reading.value <= high
            assert reading.time <= RECEIVED + FUTURE
        self.counts["readings"] += 1

    def _refused(self, error: Unusable) -> None:
        if not str(error):
            raise AssertionError("a refusal without a reason") from error
        self.counts["refused"] += 1

    def try_random(self, chance: random.Random) -> None:
        """Try a good message, mutated."""
        topic, payload = chance.choice(MESSAGES)
        topic = topic if chance.random() < 0.9 else chance.choice(TOPICS)
        self.try_one(topic, mutated(payload, chance), retained=chance.random() < 0.1)


class Configurations:
    """Tries configurations."""

    def __init__(self, texts: list[str]) -> None:
        self.counts = Counter()
        self._texts = texts

    def try_one(self, text: str) -> None:
        """Parse; raises whatever is neither settings nor a refusal that says what and what to do."""
        try:
            parse(text)
        except ConfigError as error:
            if not str(error):
                raise AssertionError("a refusal without a reason") from error
            self.counts["refused"] += 1
        else:
            self.counts["settings"] += 1

    def try_random(self, chance: random.Random) -> None:
        """Try the good text, or one of the others, mutated."""
        text = CONFIG if chance.random() < 0.5 else chance.choice(self._texts)
        self.try_one(mutated_config(text, chance))


def known_configurations() -> list[str]:
    """Return one for each mistake people make."""
    folder = Path(__file__).parents[1] / "config_mistakes"
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.toml"))]
