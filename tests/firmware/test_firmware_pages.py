"""Every example, worksheet and budget in firmware-notes is right: parsed by the real parser, calculated by the node."""

import json
import re
from pathlib import Path

import calibration
import power
import pytest
from packs import pack
from ring import HEAD, SIZE

from hivemon import config
from hivemon.errors import Unusable
from hivemon.intake.translate import Translator

NOTES = Path(__file__).parents[2] / "firmware-notes"
PAGES = {page.name: page.read_text(encoding="utf-8") for page in sorted(NOTES.glob("*.md"))}
EXAMPLES = re.findall(r"[Tt]o\s`(hives/[^`<]+)`(?:(?!```).)*?```json\n(.*?)```", PAGES["messages.md"], re.DOTALL)
AT = 1_781_265_600
RECEIVED = (AT + 1000) * 1000


def rows(page, heading):
    """Return the cells of a page's table whose first heading is this, one list a row."""
    table = PAGES[page].split(f"| {heading} |", 1)[1].split("\n\n", 1)[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("| ").split("|")] for line in table]


def results(page):
    """Return all result tables of a page as name to (shown text, value)."""
    found = {}
    for table in PAGES[page].split("| result | value | unit |")[1:]:
        for line in table.split("\n\n", 1)[0].splitlines()[2:]:
            name, shown, _ = [cell.strip() for cell in line.strip("| ").split("|")]
            found[name] = shown
    return found


def agrees(shown, value):
    """Tell whether a number as printed is the value rounded to as many digits."""
    digits = len(shown.partition(".")[2])
    return f"{value:.{digits}f}" == shown


@pytest.fixture
def translator(tmp_path):
    """Return the daemon's own translator for the invented orchard."""
    path = tmp_path / "hivemon.toml"
    path.write_text(
        '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n[embedded]\n'
    )
    return Translator(config.load(path))


def test_every_json_block_of_the_messages_page_is_an_example():
    assert len(EXAMPLES) == PAGES["messages.md"].count("```json") >= 7


@pytest.mark.parametrize(("topic", "payload"), EXAMPLES)
def test_every_example_is_understood_whole(translator, topic, payload):
    found = translator.readings(topic, payload.encode(), RECEIVED)
    assert len(found) == len(json.loads(payload))
    dated = "bt" in payload
    assert all(reading.stamped is not dated for reading in found)
    assert all(AT * 1000 <= r.time <= (AT + 600) * 1000 for r in found) or not dated


def test_a_relative_time_counts_from_receipt_and_is_refused_when_retained(translator):
    topic, payload = next(example for example in EXAMPLES if "-300" in example[1])
    times = [reading.time for reading in translator.readings(topic, payload.encode(), RECEIVED)]
    assert times == [RECEIVED - 300_000, RECEIVED]
    with pytest.raises(Unusable, match="retained"):
        translator.readings(topic, payload.encode(), RECEIVED, retained=True)


def test_a_last_will_that_says_offline_on_a_readings_topic_is_broken(translator):
    with pytest.raises(Unusable, match="SenML"):
        translator.readings("hives/orchard/o1", b"offline", RECEIVED)


def test_the_reference_nodes_packs_are_understood_whole(translator):
    kept = [(n, AT + 300 * n, [48.0 + n, 34.9, None if n == 1 else 61.0, 3.92]) for n in range(3)]
    found = translator.readings("hives/orchard/o1", pack(kept), RECEIVED)
    told = [(reading.quantity.value, reading.time // 1000, reading.value) for reading in found]
    names = ("weight", "temperature", "humidity", "battery")
    assert told == [
        (name, time, value) for _, time, values in kept for name, value in zip(names, values, strict=True) if value
    ]
    assert pack([(1, AT, [None] * 4)]) == b""


def test_the_size_of_the_ring_is_as_told():
    text = PAGES["messages.md"]
    assert f"of {SIZE} bytes, 4,096 of them: {round((HEAD + 4096 * SIZE) / 1000)} kB" in text
    assert f"{4096 // 288} days at 5 minutes, {4096 // 96} days at 15" in text


def test_the_calibration_worksheet_adds_up():
    sheet = {name: (int(counts), float(kg)) for name, counts, kg in rows("calibration.md", "what")}
    (empty, _), (loaded, known) = sheet["empty"], sheet["known mass"]
    scale, offset = calibration.two_point(empty, loaded, known)
    check, again = sheet["check mass"], sheet["empty again"]
    shown = results("calibration.md")
    assert agrees(shown["scale"], scale)
    assert agrees(shown["offset"], offset)
    assert agrees(shown["check mass shown"], calibration.kilograms(check[0], scale, offset))
    check_miss, again_miss = calibration.misses([check[0], again[0]], [check[1], again[1]], scale, offset)
    assert agrees(shown["its miss"], check_miss)
    assert agrees(shown["empty again shown"], again_miss)


def test_the_temperature_worksheet_adds_up_as_a_reference_library_fits_it():
    numpy = pytest.importorskip("numpy")
    pairs = [(float(celsius), float(kg)) for celsius, kg in rows("calibration.md", "cell, °C")]
    celsius, kg = [list(column) for column in zip(*pairs, strict=True)]
    slope = calibration.temperature_coefficient(celsius, kg)
    assert slope == pytest.approx(numpy.polyfit(celsius, kg, 1)[0], rel=1e-9)
    shown = results("calibration.md")
    assert agrees(shown["coefficient"], slope)
    assert agrees(shown["40.044 kg at 22 °C, as at 15 °C"], calibration.corrected(40.044, 22, slope, 15))


@pytest.mark.parametrize(
    ("call", "reason"),
    [
        (lambda: calibration.two_point(0, 500_000, 0), "more than 0 kg"),
        (lambda: calibration.two_point(84_000, 84_900, 20), "wiring"),
        (lambda: calibration.temperature_coefficient([1, 9], [40, 41]), "three pairs"),
        (lambda: calibration.temperature_coefficient([1, 2, 3], [40, 41, 42]), "colder night"),
        (lambda: power.average_ma(0.1, [(10, 61, 60)]), "every hour"),
    ],
)
def test_measurements_that_cannot_carry_a_calibration_are_refused(call, reason):
    with pytest.raises(ValueError, match=reason):
        call()


def test_the_class_limits_follow_from_oiml_r_60():
    """C3, 200 kg, pLC 0.7, Y = 10,000: OIML R 60-1 clauses 5.3.2, 5.5.1, 5.6.1.3."""
    interval = 200_000 / 3000
    shown = dict(rows("mounting.md", "C3, 200 kg, vmin = Emax/10,000"))
    assert shown["interval"] == f"{interval:.1f} g"
    assert shown["error band from 33 to 133 kg"] == f"± {0.7 * interval:.0f} g"
    assert shown["creep in 30 minutes"] == f"{0.735 * interval:.0f} g"
    assert shown["zero drift"] == f"{0.7 * 200_000 / 10_000 / 5:.1f} g/°C"


def test_the_power_budget_adds_up():
    table = rows("safety-and-power.md", "state")
    asleep, measure, link = [[float(cell) for cell in row[1:] if cell] for row in table]
    shown = results("safety-and-power.md")
    names = list(shown)
    mean = power.average_ma(asleep[0], [measure, link])
    hourly = power.average_ma(asleep[0], [measure, [*link[:2], 1]])
    sparing = power.average_ma(asleep[0], [[*measure[:2], 4], [*link[:2], 1]])
    assert agrees(shown["mean current"], mean)
    for name, current in zip(names[1:4], (mean, hourly, sparing), strict=True):
        assert agrees(shown[name], power.days(3000, 0.7, current)), name
    assert agrees(shown[names[4]], power.panel_watts(mean, 3.7, 1, 0.4))


def test_every_page_and_file_that_is_linked_is_there():
    for name, text in PAGES.items():
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (NOTES / target).exists(), f"{name} links to {target}"
    linked = set(re.findall(r"\]\(([^)#]+)\)", PAGES["README.md"]))
    assert set(PAGES) - {"README.md"} <= linked
