"""What reading costs: one SenML pack, the embedded broker, and a long readings file against pandas.read_csv."""

import subprocess
import sys
import threading
import time
import timeit
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.append(str(Path(__file__).parents[1] / "real"))
from brokers import Publisher, until

from hivemon.config import BrokerSettings, Settings, YardSettings
from hivemon.intake.broker import EmbeddedBroker
from hivemon.intake.files import read_readings, write_readings
from hivemon.intake.link import LinkState
from hivemon.intake.mqtt import MqttLink
from hivemon.intake.translate import Translator
from hivemon.model import Quantity, Series, Stream

START = 1_746_057_600_000
PACK = (
    b'[{"bn":"urn:dev:mac:0024befffe804001:","bt":1746057600,"n":"weight","u":"kg","v":41.23},'
    b'{"n":"temperature","u":"Cel","v":34.7},{"n":"humidity","u":"%RH","v":61.5}]'
)


def test_a_pack_of_three_records():
    """The daemon aims for 10,000 packs a second on one core; translating may take 12 µs of the 100."""
    yard = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
    translate = Translator(Settings(yard=[yard])).translate
    rounds = timeit.repeat(lambda: translate("hives/orchard/o1", PACK, START), number=20_000, repeat=5)
    best = min(rounds) / 20_000 * 1e6
    print(f"\none pack of three records into readings: {best:.1f} µs")
    assert best < 12


def test_the_embedded_broker():
    """Publisher, broker and link in one process, QoS 1 on both sides."""
    count = 8_000
    arrived: list[int] = []

    def take(messages) -> None:
        arrived.append(len(messages))
        link.ack(messages)

    with EmbeddedBroker("127.0.0.1", 0) as broker:
        link = MqttLink(BrokerSettings(host="127.0.0.1", port=broker.port), ["hives/+/+"], take, try_five=False)
        link.start()
        until(lambda: link.status.state is LinkState.UP)
        publisher = Publisher(broker.port)
        began = time.perf_counter()
        for n in range(count):
            publisher.publish(f"hives/orchard/o{n % 50}", PACK)
        until(lambda: sum(arrived) == count, 60)
        took = time.perf_counter() - began
        publisher.close()
        link.stop()
    assert threading.active_count() < 10
    print(f"\nembedded broker, everything in one process: {count / took:,.0f} messages/s")


@pytest.fixture(scope="module")
def recordings(tmp_path_factory):
    """Return two files of 10 hives x 3 quantities x 5 minutes: 180 days (1.5 million rows), and three times as long."""
    folder = tmp_path_factory.mktemp("files")
    rng = np.random.default_rng(1)
    paths = []
    for days in (180, 540):
        time_ = START + np.arange(days * 288, dtype=np.int64) * 300_000
        yard = {}
        for hive in range(1, 11):
            own = time_ + hive * 1000
            weight = np.round(40 + np.cumsum(rng.normal(0, 0.01, len(own))).clip(-20, 20), 3)
            yard[Stream(f"o{hive}", Quantity.WEIGHT)] = Series(own, weight)
            yard[Stream(f"o{hive}", Quantity.TEMPERATURE)] = Series(own, np.round(rng.normal(34.5, 0.3, len(own)), 2))
            yard[Stream(f"o{hive}", Quantity.HUMIDITY)] = Series(own, np.round(rng.normal(60, 2, len(own)), 1))
        paths.append(folder / f"{days}.csv.gz")
        write_readings(paths[-1], [{"orchard": yard}])
    return paths


def test_a_long_file_against_pandas(recordings):
    """Reading, checking, ordering and splitting 1.5 million rows takes less than three times pandas.read_csv."""
    path = recordings[0]
    ours, theirs = [], []
    for _ in range(3):
        began = time.perf_counter()
        rows = sum(len(x.time) for batch in read_readings(path) for yard in batch.values() for x in yard.values())
        ours.append(time.perf_counter() - began)
        began = time.perf_counter()
        table = pd.read_csv(path)
        theirs.append(time.perf_counter() - began)
        assert rows == len(table) == 10 * 3 * 180 * 288
    print(
        f"\n{rows:,} rows: {min(ours):.2f} s, pandas.read_csv {min(theirs):.2f} s, ratio {min(ours) / min(theirs):.1f}"
    )
    assert min(ours) < 3 * min(theirs)


PEAK = """
import sys
from pathlib import Path
from hivemon.intake.files import read_readings
for batch in read_readings(Path(sys.argv[1])):
    pass
print(next(int(line.split()[1]) // 1024 for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


def test_memory_does_not_grow_with_the_file(recordings):
    """Three times the rows must not take a quarter more memory."""
    peaks = [int(subprocess.check_output([sys.executable, "-c", PEAK, str(path)])) for path in recordings]
    print(f"\npeak memory: {peaks[0]} MB for 180 days, {peaks[1]} MB for 540 days")
    assert peaks[1] < 1.25 * peaks[0]
