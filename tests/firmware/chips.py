"""Chips that tests put behind the pins."""

import machine


class Data:
    """The data line of a converter: low when a reading is there, then its bits."""

    def __init__(self):
        self.level = 0
        self.read = False

    def value(self):
        self.read = True
        return self.level


class Converter:
    """A bridge converter behind its clock pin: shifts out one bit a rising edge, most significant first.

    A clock held high puts it to sleep; here that is a high during which nobody looks at the data.
    """

    def __init__(self, counts):
        self._bits = [counts >> shift & 1 for shift in range(23, -1, -1)]
        self.level = 0
        self.pulses = 0
        self.sleeps = 0
        self.data = Data()

    def value(self, level):
        if level == 1 and self.level == 0:
            at = self.pulses % 25
            self.data.level = self._bits[at] if at < 24 else 0
            self.data.read = False
        elif level == 0 and self.level == 1:
            if self.data.read:
                self.pulses += 1
            else:
                self.sleeps += 1
                self.pulses = 0
                self.data.level = 0
        self.level = level


def humidity_answer(crc8, celsius, percent):
    """Return a sensor's six bytes for a state, by the data sheet's formulas turned round."""
    raw = b""
    for part in ((celsius + 45) / 175, percent / 100):
        word = round(part * 65535).to_bytes(2, "big")
        raw += word + bytes([crc8(word)])
    return raw


def fresh_machine():
    """Forget everything earlier tests put behind the pins."""
    for what in (machine.slept, machine.fed, machine.pins, machine.i2c_answers, machine.disabled):
        what.clear()
    machine.kept["rtc"] = b""
