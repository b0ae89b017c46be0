"""The reference node's drivers against chips played pin by pin, and its values against their own data sheets."""

import time

import ds18x20
import hardware
import machine
import pytest
from chips import Converter, Data, fresh_machine, humidity_answer
from hypothesis import given
from hypothesis import strategies as st


@pytest.fixture(autouse=True)
def millisecond_ticks(monkeypatch):
    """Give CPython's time the three functions MicroPython has."""
    fresh_machine()
    monkeypatch.setattr(time, "ticks_ms", lambda: int(time.monotonic() * 1000), raising=False)
    monkeypatch.setattr(time, "ticks_add", lambda a, b: a + b, raising=False)
    monkeypatch.setattr(time, "ticks_diff", lambda a, b: a - b, raising=False)
    monkeypatch.setattr(time, "sleep_ms", lambda _: None, raising=False)


@given(st.integers(-(2**23), 2**23 - 1))
def test_the_bridge_is_read_as_signed_and_asked_for_gain_128(counts):
    """24 data pulses and one more for the next reading at gain 128 (data sheet, from memory)."""
    chip = Converter(counts & 0xFFFFFF)
    assert hardware.Bridge(chip, chip.data).read() == counts
    assert chip.pulses == 25
    assert chip.level == 0
    assert not machine.disabled, "interrupts are on again"


def test_a_bridge_that_never_answers_is_an_error_and_no_wait_for_ever(monkeypatch):
    monkeypatch.setattr(hardware, "READY_WITHIN_MS", 20)
    data = Data()
    data.level = 1
    with pytest.raises(OSError, match="supply and wires"):
        hardware.Bridge(Converter(0), data).read()


class Bus:
    """An I2C bus with one humidity sensor that answers these bytes."""

    def __init__(self, raw):
        self.raw = raw

    def writeto(self, address, command):
        assert (address, command) == (0x44, b"\x24\x00")

    def readfrom(self, _address, count):
        return self.raw[:count]


def answer(celsius, percent):
    return humidity_answer(hardware.crc8, celsius, percent)


def test_the_checksum_is_the_data_sheets():
    """Sensirion's SHT3x data sheet gives CRC(0xBEEF) = 0x92 (from memory)."""
    assert hardware.crc8(b"\xbe\xef") == 0x92


def test_humidity_and_temperature_come_out_of_the_raw_words():
    assert hardware.humidity(Bus(answer(34.5, 61.0))) == (pytest.approx(34.5, abs=0.01), pytest.approx(61.0, abs=0.01))


@pytest.mark.parametrize("byte", range(6))
def test_a_flipped_bit_anywhere_is_found(byte):
    raw = bytearray(answer(34.5, 61.0))
    raw[byte] ^= 4
    with pytest.raises(OSError, match="CRC"):
        hardware.humidity(Bus(bytes(raw)))


def test_the_battery_is_read_behind_its_divider():
    class Adc:
        def read_uv(self):
            return 1_960_000

    assert hardware.battery(Adc(), 2.0) == pytest.approx(3.92)


def test_the_thermometer_is_read():
    assert hardware.thermometer(machine.Pin(4)) == 34.5625


@pytest.mark.parametrize(("celsius", "reason"), [([], "no thermometer"), ([85.0], "85 degrees")])
def test_a_thermometer_that_measured_nothing_gives_no_value(monkeypatch, celsius, reason):
    monkeypatch.setattr(ds18x20, "celsius", celsius)
    with pytest.raises(OSError, match=reason):
        hardware.thermometer(machine.Pin(4))
