"""From topic and payload to readings: places, names, units, times, device maps, and every way to be refused."""

import json

import pytest

from hivemon.config import DeviceSettings, parse
from hivemon.errors import ConfigError, Unusable
from hivemon.intake.devices import DeviceMap
from hivemon.intake.moments import FUTURE
from hivemon.intake.translate import EARLIEST, Translator
from hivemon.model import MINUTE, Quantity, Reading

NOW = 1_784_102_400_000
SECONDS = NOW // 1000
YARD = '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
HIVE = '[[hive]]\nid = "o1"\nyard = "orchard"\n'


def translator(extra: str = "") -> Translator:
    return Translator(parse(YARD + HIVE + extra))


def pack(*records: dict) -> bytes:
    return json.dumps(records).encode()


def weight(**fields) -> bytes:
    return pack({"n": "weight", "u": "kg", "v": 41.25, "t": SECONDS} | fields)


def refusal(topic: str, payload: bytes, *, retained: bool = False, extra: str = "") -> str:
    with pytest.raises(Unusable) as caught:
        translator(extra).readings(topic, payload, NOW, retained=retained)
    return str(caught.value)


# ---------------------------------------------------------------- SenML


def test_a_pack_of_a_hive_becomes_its_readings():
    found = translator().readings(
        "hives/orchard/o1",
        pack(
            {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": SECONDS, "n": "weight", "u": "kg", "v": 41.25},
            {"n": "temperature", "u": "Cel", "v": 34.75},
            {"n": "humidity", "u": "%RH", "v": 61.5},
            {"n": "battery", "u": "V", "v": 3.75},
        ),
        NOW,
    )
    assert found == [
        Reading(NOW, "orchard", "o1", Quantity.WEIGHT, 41.25),
        Reading(NOW, "orchard", "o1", Quantity.TEMPERATURE, 34.75),
        Reading(NOW, "orchard", "o1", Quantity.HUMIDITY, 61.5),
        Reading(NOW, "orchard", "o1", Quantity.BATTERY, 3.75),
    ]


def test_a_pack_of_the_yard_becomes_readings_without_a_hive():
    found = translator().readings(
        "hives/orchard",
        pack(
            {"bt": SECONDS, "n": "outside-temperature", "u": "Cel", "v": 18.5},
            {"n": "outside-humidity", "u": "%RH", "v": 55},
            {"n": "rain", "u": "mm", "v": 0.4},
        ),
        NOW,
    )
    assert [(r.hive, r.quantity, r.value) for r in found] == [
        (None, Quantity.OUTSIDE_TEMPERATURE, 18.5),
        (None, Quantity.OUTSIDE_HUMIDITY, 55.0),
        (None, Quantity.RAIN, 0.4),
    ]


@pytest.mark.parametrize(
    "name", ["weight", "o1/weight", "urn:dev:ow:10e2073a01080063:weight", "scale_weight", "a-weight", "a.weight"]
)
def test_a_full_name_may_end_in_the_quantity_after_a_separator(name):
    (found,) = translator().readings("hives/orchard/o1", weight(n=name), NOW)
    assert found.quantity is Quantity.WEIGHT


def test_an_outside_temperature_is_not_taken_for_a_hives():
    (found,) = translator().readings("hives/orchard", pack({"n": "o1:outside-temperature", "v": 9, "t": SECONDS}), NOW)
    assert found.quantity is Quantity.OUTSIDE_TEMPERATURE


@pytest.mark.parametrize("name", ["heavyweight", "weights", "Weight", "rssi"])
def test_other_names_are_refused(name):
    assert "no quantity known" in refusal("hives/orchard/o1", weight(n=name))


def test_a_missing_unit_is_the_quantitys_own_and_registered_units_are_converted():
    (plain,) = translator().readings("hives/orchard/o1", pack({"n": "weight", "v": 41.25, "t": SECONDS}), NOW)
    (grams,) = translator().readings("hives/orchard/o1", weight(u="g", v=41250), NOW)
    assert plain.value == grams.value == 41.25


@pytest.mark.parametrize("unit", ["Cel", "lb", "KG", "degF"])
def test_a_wrong_unit_is_refused_naming_both(unit):
    """lb and degF are in no SenML registry (RFC 8428, 8798): they belong in a device map."""
    reason = refusal("hives/orchard/o1", weight(u=unit))
    assert repr(unit) in reason
    assert "'kg'" in reason


def test_a_missing_time_is_stamped_on_receipt_and_marked():
    (found,) = translator().readings("hives/orchard/o1", pack({"n": "weight", "v": 41.25}), NOW)
    assert (found.time, found.stamped) == (NOW, True)


def test_a_relative_time_counts_from_receipt_and_is_marked():
    (found,) = translator().readings("hives/orchard/o1", weight(t=-300), NOW)
    assert (found.time, found.stamped) == (NOW - 5 * MINUTE, True)


def test_ten_minutes_ahead_is_taken_and_more_is_not():
    (found,) = translator().readings("hives/orchard/o1", weight(t=(NOW + FUTURE) / 1000), NOW)
    assert found.time == NOW + FUTURE
    assert "in the future" in refusal("hives/orchard/o1", weight(t=(NOW + FUTURE + 1) / 1000))


@pytest.mark.parametrize("seconds", [315_964_800, 946_684_800, 1_262_304_000, EARLIEST // 1000 - 1])
def test_a_clock_that_was_never_set_is_refused(seconds):
    """1980 (GPS), 2000 and 2010: where clocks of small devices start."""
    assert "never set" in refusal("hives/orchard/o1", weight(t=seconds))


def test_a_retained_message_needs_an_absolute_time():
    """RFC 8428 times are relative to receipt, and a retained message (MQTT 5.0 section 3.3.1.3) may be of any age."""
    assert len(translator().readings("hives/orchard/o1", weight(), NOW, retained=True)) == 1
    for payload in (pack({"n": "weight", "v": 41.25}), weight(t=-5)):
        assert "retained" in refusal("hives/orchard/o1", payload, retained=True)


@pytest.mark.parametrize("value", [-50.1, 500.1, 1e300])
def test_impossible_weights_are_refused(value):
    assert "impossible" in refusal("hives/orchard/o1", weight(v=value))


@pytest.mark.parametrize("fields", [{"vs": "41.25"}, {"vb": True}, {"vd": "aGk"}, {"s": 3.0}])
def test_what_is_no_number_is_refused(fields):
    assert "no number" in refusal("hives/orchard/o1", pack({"n": "weight", "t": SECONDS} | fields))


def test_one_bad_record_does_not_cost_the_others():
    found = translator().translate(
        "hives/orchard/o1",
        pack({"bt": SECONDS, "n": "weight", "v": 41.25}, {"n": "humidity", "v": 900}, {"n": "rssi", "v": -70}),
        NOW,
    )
    assert [r.quantity for r in found.readings] == [Quantity.WEIGHT]
    assert [reason.split(":")[0] for reason in found.refused] == ["humidity", "rssi"]


# ---------------------------------------------------------------- places


def test_a_hive_that_is_not_configured_is_read_under_its_id():
    (found,) = translator().readings("hives/orchard/o7", weight(), NOW)
    assert found.hive == "o7"


def test_an_unknown_yard_is_refused_naming_the_known():
    assert "no yard 'meadow'" in refusal("hives/meadow/o1", weight())
    assert "orchard" in refusal("hives/meadow/o1", weight())


@pytest.mark.parametrize(
    "topic", ["hives", "hives/", "hives/orchard/o1/weight", "bees/orchard/o1", "xhives/orchard/o1"]
)
def test_other_topics_are_refused(topic):
    with pytest.raises(Unusable, match=r"topic|yard"):
        translator().readings(topic, weight(), NOW)


@pytest.mark.parametrize("hive", ["", " ", "o 1", "ö1", "-o1", "a" * 65, "o1\n"])
def test_hive_ids_have_the_characters_of_the_configuration(hive):
    assert "hive id" in refusal(f"hives/orchard/{hive}", weight())


def test_quantities_stay_where_they_belong():
    assert "belongs to the yard" in refusal("hives/orchard/o1", weight(n="rain", u="mm"))
    assert "belongs to a hive" in refusal("hives/orchard", weight())


def test_another_root_topic():
    broker = '[broker]\nhost = "localhost"\ntopic = "farm/bees"\n'
    found = translator(broker)
    assert found.readings("farm/bees/orchard/o1", weight(), NOW)[0].hive == "o1"
    assert found.topics() == ["farm/bees/+/+", "farm/bees/+"]
    assert "is not farm/bees/<yard>" in refusal("hives/orchard/o1", weight(), extra=broker)


# ---------------------------------------------------------------- device maps


def device(**fields) -> str:
    lines = {"topic": "shed/scale", "yard": "orchard", "hive": "o1", "quantity": "weight"} | fields
    return "[[device]]\n" + "".join(
        f"{key} = {json.dumps(value)}\n" for key, value in lines.items() if value is not None
    )


def test_a_plain_number_is_scaled_shifted_then_converted():
    found = translator(device(unit="lb", scale=0.5, offset=10))
    (reading,) = found.readings("shed/scale", b" 180.0\n", NOW)
    assert reading == Reading(NOW, "orchard", "o1", Quantity.WEIGHT, 100 * 0.45359237, stamped=True)


def test_json_with_pointers_to_value_and_time():
    found = translator(device(form="json", pointer="/sensors/1/mass", time_pointer="/at", unit="g"))
    payload = {"at": "2026-07-15T09:59:00+02:00", "sensors": [{}, {"mass": 41250}]}
    (reading,) = found.readings("shed/scale", json.dumps(payload).encode(), NOW)
    assert reading == Reading(NOW - MINUTE, "orchard", "o1", Quantity.WEIGHT, 41.25)


def test_a_time_may_be_unix_seconds_and_a_number_may_be_quoted():
    found = translator(device(form="json", pointer="/w", time_pointer="/t"))
    (reading,) = found.readings("shed/scale", json.dumps({"t": SECONDS - 1.5, "w": "41.25"}).encode(), NOW)
    assert (reading.time, reading.value, reading.stamped) == (NOW - 1500, 41.25, False)


def test_several_devices_may_share_a_topic():
    extra = device(form="json", pointer="/w") + device(form="json", pointer="/t", quantity="temperature", unit="degF")
    found = translator(extra).translate("shed/scale", b'{"w": 41.25, "t": 95}', NOW)
    assert [(r.quantity, r.value) for r in found.readings] == [(Quantity.WEIGHT, 41.25), (Quantity.TEMPERATURE, 35.0)]
    found = translator(extra).translate("shed/scale", b'{"w": 41.25}', NOW)
    assert len(found.readings) == len(found.refused) == 1


@pytest.mark.parametrize("payload", [b"", b"NaN", b"inf", b"41,25", b"41.25 kg", b"0x10", b"1e999", b"\xff", b"1_0"])
def test_what_is_no_plain_number_is_refused(payload):
    assert "number" in refusal("shed/scale", payload, extra=device())


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"{",
        b"[]",
        b'{"w": null}',
        b'{"w": true}',
        b'{"w": [1]}',
        b'{"w": NaN}',
        b'{"w": "heavy"}',
        b'{"w": 1' + b"0" * 400 + b"}",
    ],
)
def test_json_without_the_number_is_refused(payload):
    assert refusal("shed/scale", payload, extra=device(form="json", pointer="/w"))


@pytest.mark.parametrize("moment", ["yesterday", None, True, -1, 1_784_102_400_000, "2026-07-15T10:00:00"])
def test_a_device_time_that_is_none_is_refused(moment):
    extra = device(form="json", pointer="/w", time_pointer="/t")
    assert "time" in refusal("shed/scale", json.dumps({"w": 41.25, "t": moment}).encode(), extra=extra)


def test_limits_future_and_retention_hold_for_devices_too():
    assert "impossible" in refusal("shed/scale", b"5000", extra=device())
    assert "retained" in refusal("shed/scale", b"41.25", retained=True, extra=device())
    timed = device(form="json", pointer="/w", time_pointer="/t")
    assert "future" in refusal("shed/scale", json.dumps({"w": 41.25, "t": SECONDS + 601}).encode(), extra=timed)


def test_device_topics_are_subscribed_unless_covered():
    extra = device() + device(topic="hives/orchard/o2", hive="o2")
    assert translator(extra).topics() == ["hives/+/+", "hives/+", "shed/scale"]


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"topic": "shed/+"}, "wildcards"),
        ({"unit": "Cel"}, "cannot be in"),
        ({"form": "json", "pointer": "/a~b"}, "pointer"),
    ],
)
def test_device_maps_that_cannot_be_are_errors_of_configuration(fields, message):
    plain = {"topic": "shed/scale", "yard": "orchard", "hive": "o1", "quantity": Quantity.WEIGHT}
    with pytest.raises(ConfigError) as caught:
        DeviceMap(DeviceSettings(**plain | fields))
    assert message in f"{caught.value} {caught.value.hint}"
