"""The part of MicroPython's machine that the reference node uses, without a board: tests put chips behind the pins."""

slept = []
fed = []
pins = {}
kept = {"rtc": b""}
i2c_answers = []
disabled = []


class Pin:
    """A pin that remembers its level."""

    OUT = 1
    IN = 0

    def __new__(cls, number, mode=IN):  # noqa: ARG004 - MicroPython's signature
        """Return the chip that a test put behind this pin."""
        if number not in pins:
            pins[number] = super().__new__(cls)
            pins[number].level = 0
        return pins[number]

    def value(self, level=None):
        if level is None:
            return self.level
        self.level = level
        return None


class ADC:
    """Measures half of 3.92 V."""

    ATTN_11DB = 3

    def __init__(self, _pin, *, atten):
        assert atten == self.ATTN_11DB

    def read_uv(self):
        return 1_960_000


class I2C:
    """One sensor answers what the test put into `i2c_answers`; nothing else is there."""

    def __init__(self, _number, *, scl, sda):
        assert scl is not sda

    def writeto(self, _address, _command):
        if not i2c_answers:
            raise OSError(19)

    def readfrom(self, _address, _count):
        return i2c_answers[0]


class RTC:
    """Memory that outlives sleep and not the power."""

    def memory(self, data=None):
        if data is None:
            return kept["rtc"]
        kept["rtc"] = data
        return None


class WDT:
    """Counts how often it was fed."""

    def __init__(self, *, timeout):
        fed.clear()
        self.timeout = timeout

    def feed(self):
        fed.append(self.timeout)


def disable_irq():
    disabled.append(True)
    return len(disabled)


def enable_irq(_state):
    disabled.pop()


def deepsleep(milliseconds):
    slept.append(milliseconds)
