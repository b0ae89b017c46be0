"""The sensors of the reference node, wire by wire as their data sheets describe them (from memory).

A 24-bit bridge converter with clock and data pins, a one-wire thermometer, a humidity sensor on I2C, a divided battery
voltage.
"""

import time

import machine

READY_WITHIN_MS = 500
"""The converter gives ten readings a second; five times that without one is a fault."""


class Bridge:
    """A bridge converter read bit by bit.

    Data falls when a reading is there, 24 pulses fetch it, a 25th asks for the next at gain 128, and a clock held high
    for more than 60 µs puts it to sleep.
    """

    def __init__(self, clock, data):
        """`clock` and `data` are machine.Pin, out and in."""
        self._clock = clock
        self._data = data
        clock.value(0)

    def read(self):
        """Return one reading in counts, signed. OSError: none came in time."""
        end = time.ticks_add(time.ticks_ms(), READY_WITHIN_MS)
        while self._data.value():
            if time.ticks_diff(end, time.ticks_ms()) <= 0:
                raise OSError("the bridge converter gives no reading: check its supply and wires")
        irq = machine.disable_irq()  # an interrupt during a pulse would put the converter to sleep
        try:
            counts = 0
            for _ in range(24):
                counts = counts << 1 | self._pulse()
            self._pulse()
        finally:
            machine.enable_irq(irq)
        return counts - (1 << 24) if counts & 1 << 23 else counts

    def sleep(self):
        """Put the converter to sleep until the next read, and with it the current through the load cell."""
        self._clock.value(0)
        self._clock.value(1)

    def wake(self):
        """Wake it; the first readings after that have not settled and are thrown away. OSError: it does not answer."""
        self._clock.value(0)
        for _ in range(4):
            self.read()

    def _pulse(self):
        self._clock.value(1)
        bit = self._data.value()
        self._clock.value(0)
        return bit


def humidity(i2c, address=0x44):
    """Return (°C, %RH) of a sensor that knows the single-shot command 0x2400. OSError: silent, or the CRC is wrong."""
    i2c.writeto(address, b"\x24\x00")
    time.sleep_ms(20)
    raw = i2c.readfrom(address, 6)
    if crc8(raw[0:2]) != raw[2] or crc8(raw[3:5]) != raw[5]:
        raise OSError("the humidity sensor's CRC is wrong: check the cable and its length")
    celsius = -45 + 175 * (raw[0] << 8 | raw[1]) / 65535
    return celsius, 100 * (raw[3] << 8 | raw[4]) / 65535


def crc8(data):
    """Return the CRC-8 of the sensor's data sheet: polynomial 0x31, start 0xFF (from memory; its example: BEEF, 92)."""
    crc = 0xFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ 0x31 if crc & 0x80 else crc << 1) & 0xFF
    return crc


def thermometer(pin):
    """Return °C of the one thermometer on a one-wire bus. OSError: none answers, or it shows its power-on 85 °C."""
    import ds18x20  # noqa: PLC0415 - only where there is one
    import onewire  # noqa: PLC0415

    bus = ds18x20.DS18X20(onewire.OneWire(pin))
    try:
        found = bus.scan()
        if not found:
            raise OSError("no thermometer answers on the bus: check cable and pull-up")
        bus.convert_temp()
        time.sleep_ms(750)
        celsius = bus.read_temp(found[0])
    except onewire.OneWireError:
        raise OSError("the thermometer went silent while being read") from None
    if celsius == 85:
        raise OSError("the thermometer shows 85 degrees, its value before any measurement: supply too weak")
    return celsius


def battery(adc, divider):
    """Return the battery's volts behind a resistor divider; `divider` is whole voltage by divided voltage."""
    return adc.read_uv() * divider / 1_000_000
