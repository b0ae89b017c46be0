"""Thermometers on a one-wire bus: those in `celsius`."""

celsius = [34.5625]


class DS18X20:
    """Finds and reads them."""

    def __init__(self, _bus):
        self._converted = False

    def scan(self):
        return [bytes(8)] * len(celsius)

    def convert_temp(self):
        self._converted = True

    def read_temp(self, _rom):
        assert self._converted
        return celsius[0]
