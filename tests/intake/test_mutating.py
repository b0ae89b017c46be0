"""Random and mutated messages and configurations: readings, settings or a reason, and never anything else.

tests/bench/bench_fuzz.py tries millions, and looks for new ways through the program (atheris).
"""

import random

from hypothesis import given
from hypothesis import strategies as st
from mutating import CONFIG, MESSAGES, TOPICS, Configurations, Payloads, known_configurations

PAYLOADS = Payloads()


def test_mutated_payloads():
    payloads, chance = Payloads(), random.Random(1)
    for _ in range(10_000):
        payloads.try_random(chance)
    assert min(payloads.counts["refused"], payloads.counts["readings"]) > 500


def test_mutated_configurations():
    configurations, chance = Configurations(known_configurations()), random.Random(2)
    for _ in range(400):
        configurations.try_random(chance)
    assert min(configurations.counts["refused"], configurations.counts["settings"]) > 8


@given(topic=st.sampled_from(TOPICS) | st.text(max_size=40), payload=st.binary(max_size=200), retained=st.booleans())
def test_any_bytes_on_any_topic(topic, payload, retained):
    PAYLOADS.try_one(topic, payload, retained=retained)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(st.sampled_from(["n", "v", "t", "bt", "bn", "u", "vs", "s", "bver"]), inner, max_size=5)
        ),
        max_leaves=12,
    )
)
def test_any_json_with_the_labels_of_senml(document):
    import json  # noqa: PLC0415 - writes NaN and Infinity, which msgspec does not

    for topic, _ in MESSAGES:
        PAYLOADS.try_one(topic, json.dumps(document).encode("utf-8", "surrogatepass"))


@given(st.text(max_size=200))
def test_any_text_as_a_configuration(text):
    Configurations([]).try_one(text)
    Configurations([]).try_one(CONFIG + text)
