"""Readings to a SenML pack (RFC 8428, JSON), written by hand: every value and time as text, none through a float."""

QUANTITIES = (("weight", "kg", 3), ("temperature", "Cel", 2), ("humidity", "%RH", 1), ("battery", "V", 3))
"""Name, unit and decimals of the four values of a reading, in the order of the ring's slots."""


def pack(readings):
    """Return the bytes of one pack from (number, Unix seconds, four values) each; b"" where there is no value.

    The first record carries the time of the first reading as base time; later ones count from it.
    """
    start = readings[0][1] if readings else 0
    records = []
    for _, time, values in readings:
        for (name, unit, decimals), value in zip(QUANTITIES, values):
            if value is None:
                continue
            record = '"n":"%s","u":"%s","v":%.*f' % (name, unit, decimals, value)
            if time != start:
                record += ',"t":%d' % (time - start)
            if not records:
                record = '"bt":%d,' % start + record
            records.append("{" + record + "}")
    return ("[" + ",".join(records) + "]").encode() if records else b""
