"""SenML (RFC 8428): the standard's own examples, its rules one by one, and resolving as a property.

The examples of section 5.1 are quoted from memory of the RFC; line layout differs.
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.errors import Unusable
from hivemon.intake.senml import MOST_BYTES, MOST_NAME, MOST_RECORDS, Record, resolve

NOW = 1_784_102_400_000
"""2026-07-15T08:00:00Z, the moment of receipt in these tests."""
DEVICE = "urn:dev:ow:10e2073a01080063"


def pack(*records: dict) -> bytes:
    return json.dumps(records).encode()


def one(**fields) -> Record:
    (record,) = resolve(pack({"n": "weight", "v": 1.0} | fields), NOW)
    return record


# ---------------------------------------------------------------- RFC 8428 section 5.1, examples


def test_5_1_1_a_single_datapoint_without_time_is_stamped_on_receipt():
    found = resolve(b'[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]', NOW)
    assert found == [Record(DEVICE, "Cel", 23.1, NOW, stamped=True)]


def test_5_1_2_multiple_datapoints_take_the_base_name():
    found = resolve(
        b"""[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
             {"n":"current","u":"A","v":1.2}]""",
        NOW,
    )
    assert [(r.name, r.unit, r.value) for r in found] == [
        (f"{DEVICE}:voltage", "V", 120.1),
        (f"{DEVICE}:current", "A", 1.2),
    ]


VOLTAGE_AND_CURRENT = b"""[
  {"bn":"urn:dev:ow:10e2073a01080063:","bt":1.276020076e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
  {"n":"current","t":-5,"v":1.2}, {"n":"current","t":-4,"v":1.3}, {"n":"current","t":-3,"v":1.4},
  {"n":"current","t":-2,"v":1.5}, {"n":"current","t":-1,"v":1.6}, {"n":"current","v":1.7}]"""
RESOLVED = b"""[
  {"n":"urn:dev:ow:10e2073a01080063:voltage","u":"V","t":1.276020076e+09,"v":120.1},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020071e+09,"v":1.2},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020072e+09,"v":1.3},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020073e+09,"v":1.4},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020074e+09,"v":1.5},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020075e+09,"v":1.6},
  {"n":"urn:dev:ow:10e2073a01080063:current","u":"A","t":1.276020076e+09,"v":1.7}]"""


def test_5_1_4_a_pack_with_base_fields_equals_its_resolved_form():
    found = resolve(VOLTAGE_AND_CURRENT, NOW)
    assert found == resolve(RESOLVED, NOW)
    assert found[1] == Record(f"{DEVICE}:current", "A", 1.2, 1_276_020_071_000, stamped=False)


def test_5_1_3_multiple_measurements_of_one_name_in_several_units():
    found = resolve(
        b"""[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
             {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965},
             {"t":60,"v":20.3}, {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965},
             {"t":120,"v":20.7}, {"u":"lon","t":120,"v":24.30623}, {"u":"lat","t":120,"v":60.07966},
             {"u":"%EL","t":150,"v":98},
             {"t":180,"v":21.2}, {"u":"lon","t":180,"v":24.30628}, {"u":"lat","t":180,"v":60.07967}]""",
        NOW,
    )
    assert {r.name for r in found} == {DEVICE}
    assert [r.value for r in found if r.unit == "%RH"] == [20.0, 20.3, 20.7, 21.2]
    assert [r.time - 1_320_067_464_000 for r in found if r.unit == "%EL"] == [150_000]


def test_5_1_5_multiple_data_types():
    found = resolve(
        b"""[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
             {"n":"label","vs":"Machine Room"}, {"n":"open","vb":false}, {"n":"nfc-reader","vd":"aGkgCg"}]""",
        NOW,
    )
    assert [r.value for r in found] == [23.1, "Machine Room", False, b"hi \n"]


def test_5_1_6_a_collection_of_resources_changes_the_base_on_its_way():
    found = resolve(
        b"""[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
             {"n":"humidity","u":"%RH","v":30},
             {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
             {"n":"humidity","u":"%RH","v":67}]""",
        NOW,
    )
    assert [(r.name, r.value) for r in found] == [
        ("2001:db8::2/temperature", 25.2),
        ("2001:db8::2/humidity", 30.0),
        ("2001:db8::1/temperature", 12.3),
        ("2001:db8::1/humidity", 67.0),
    ]
    assert {r.time for r in found} == {1_320_078_429_000}


# ---------------------------------------------------------------- the rules, by section of RFC 8428


def test_4_5_3_below_two_to_the_28_seconds_a_time_counts_from_receipt():
    assert one(t=2.0**28 - 1) == Record("weight", "", 1.0, NOW + (2**28 - 1) * 1000, stamped=True)
    assert one(t=2.0**28) == Record("weight", "", 1.0, 2**28 * 1000, stamped=False)


def test_4_5_3_relative_times_reach_into_the_past():
    assert one(t=-90.5) == Record("weight", "", 1.0, NOW - 90_500, stamped=True)


def test_4_5_3_base_time_and_time_are_added_before_they_are_judged():
    assert one(bt=2.0**28 - 5, t=10).time == (2**28 + 5) * 1000


def test_times_keep_their_milliseconds():
    assert one(t=1784102400.123).time == 1_784_102_400_123


@pytest.mark.parametrize("seconds", [-(2.0**28) - 1, 1e12, 1.7e308])
def test_times_out_of_this_world_are_refused(seconds):
    with pytest.raises(Unusable, match="time"):
        one(t=seconds)


def test_4_5_4_base_value_and_value_are_added():
    assert one(bv=40.0, v=1.25).value == 41.25


def test_4_5_4_a_sum_needs_no_value_and_a_missing_base_sum_counts_as_zero():
    (record,) = resolve(pack({"n": "energy", "s": 3.5}), NOW)
    assert (record.value, record.sum) == (None, 3.5)
    assert one(bs=10.0, s=2.5).sum == 12.5


def test_base_fields_hold_until_they_appear_again():
    found = resolve(
        pack(
            {"bn": "a/", "bu": "kg", "bv": 1, "n": "weight", "v": 1},
            {"n": "weight", "v": 2},
            {"bv": 5, "n": "x", "v": 1},
        ),
        NOW,
    )
    assert [(r.name, r.unit, r.value) for r in found] == [
        ("a/weight", "kg", 2.0),
        ("a/weight", "kg", 3.0),
        ("a/x", "kg", 6.0),
    ]


def test_escaped_labels_are_labels_too():
    """JSON may write "bn" as "\\u0062n" (RFC 8259 section 7)."""
    assert resolve(b'[{"\\u0062n":"a/","n":"weight","v":1}]', NOW)[0].name == "a/weight"


@pytest.mark.parametrize("version", [1, 5, 10])
def test_4_4_versions_up_to_ten_are_understood(version):
    assert one(bver=version).value == 1.0


@pytest.mark.parametrize("version", [11, 42, 0, -3])
def test_4_4_other_versions_are_not_used(version):
    with pytest.raises(Unusable, match=f"version {version} is not spoken"):
        one(bver=version)


def test_4_4_the_version_is_the_same_in_the_whole_pack():
    with pytest.raises(Unusable, match=r"record 2.*changes within the pack"):
        resolve(pack({"bver": 5, "n": "a", "v": 1}, {"bver": 10, "n": "b", "v": 1}), NOW)


def test_4_4_unknown_labels_are_ignored_unless_they_end_in_an_underscore():
    assert one(flower="linden").value == 1.0
    with pytest.raises(Unusable, match="'flower_' must be understood"):
        one(flower_="linden")


def test_an_underscore_in_a_name_is_no_label():
    assert one(n="hive_").name == "hive_"


@pytest.mark.parametrize("name", ["a", "0", "A-Z:a.z/0_9", "urn:dev:mac:0024befffe804ff1/weight"])
def test_4_5_1_names_have_their_characters(name):
    assert one(n=name).name == name


@pytest.mark.parametrize("name", ["", "-a", ":a", "_a", "a b", "a+b", "é", "weight\n", "a" * (MOST_NAME + 1)])
def test_4_5_1_other_names_are_refused(name):
    with pytest.raises(Unusable, match=r"SenML record 1: .*name"):
        one(n=name)


@pytest.mark.parametrize(
    "values",
    [{"v": 1, "vs": "x"}, {"v": 1, "vb": True}, {"vs": "x", "vd": "aGk"}, {"v": 1, "vs": "x", "vb": True, "vd": ""}],
)
def test_a_record_has_one_value(values):
    with pytest.raises(Unusable, match="a record has one value"):
        resolve(pack({"n": "a"} | values), NOW)


def test_a_record_without_value_or_sum_is_refused():
    with pytest.raises(Unusable, match=r"record 1.*neither a value"):
        resolve(pack({"n": "a"}), NOW)


@pytest.mark.parametrize("data", ["aGkgCg==", "a+/b", "a", "é"])
def test_data_is_base64url_without_padding(data):
    with pytest.raises(Unusable, match="base64url"):
        resolve(pack({"n": "a", "vd": data}), NOW)


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"41.2",
        b"{}",
        b"[]",
        b"[1]",
        b"null",
        b"[[]]",
        b'[{"n":"weight","v":NaN}]',
        b'[{"n":"weight","v":Infinity}]',
        b'[{"n":"weight","v":-Infinity}]',
        b'[{"n":"weight","v":1e999}]',
        b'[{"n":"weight","v":"41.2"}]',
        b'[{"n":"weight","v":true}]',
        b'[{"n":"weight","v":null}]',
        b'[{"n":7,"v":1}]',
        b'[{"n":"weight","v":1,"bver":10.5}]',
        b'[{"n":"weight","v":1}] x',
        b'[{"n":"weight","v":1},]',
        b'[{"n":"we\xffght","v":1}]',
        b"[" * 5000,
        b'[{"x":' + b"[" * 5000,
    ],
)
def test_what_is_no_pack_is_refused_with_a_reason(payload):
    """RFC 8259 has no NaN, no Infinity and no trailing comma; RFC 8428 section 5 asks for an array of objects."""
    with pytest.raises(Unusable, match=r"SenML|JSON|record"):
        resolve(payload, NOW)


def test_sizes_are_bounded():
    with pytest.raises(Unusable, match="bytes is longer"):
        resolve(b"[" + b" " * MOST_BYTES + b"]", NOW)
    with pytest.raises(Unusable, match="records are more"):
        resolve(pack(*[{"n": "a", "v": 1}] * (MOST_RECORDS + 1)), NOW)
    assert len(resolve(pack(*[{"n": "a", "v": 1}] * MOST_RECORDS), NOW)) == MOST_RECORDS


@given(st.binary(max_size=300))
def test_no_bytes_at_all_raise_anything_else(payload):
    try:
        resolve(payload, NOW)
    except Unusable:
        pass
    else:
        assert payload.lstrip()[:1] == b"["


WHOLE = st.integers(-1000, 1000).map(float)


@given(
    name=st.text("abz09", min_size=1, max_size=6),
    cut=st.integers(0, 6),
    rows=st.lists(st.tuples(WHOLE, st.integers(0, 100_000)), min_size=1, max_size=8),
    shift=WHOLE,
)
def test_moving_a_common_part_into_base_fields_changes_nothing(name, cut, rows, shift):
    """Section 4.6: a pack and its resolved form say the same."""
    start = 1_700_000_000
    plain = [{"n": name, "u": "kg", "t": start + t, "v": v} for v, t in rows]
    based = [{"n": name[cut:], "t": t, "v": v - shift} for v, t in rows]
    based[0] |= {"bn": name[:cut], "bt": start, "bu": "kg", "bv": shift}
    assert resolve(pack(*based), NOW) == resolve(pack(*plain), NOW)


def test_a_sum_beyond_what_a_double_holds_is_refused():
    """RFC 8428 section 5: numbers are IEEE doubles; two of them must not add up to infinity."""
    with pytest.raises(Unusable, match="more than a number can hold"):
        one(bv=1.7e308, v=1.7e308)
