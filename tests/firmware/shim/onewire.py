"""A bus that knows its pin."""


class OneWireError(Exception):
    """The bus went silent."""


class OneWire:
    """Holds the pin."""

    def __init__(self, pin):
        self.pin = pin
