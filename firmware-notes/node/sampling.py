"""One reading from a burst: the median, and how far the burst spread. Pure; runs on MicroPython and CPython."""


def median(values):
    """Return the middle value, the mean of the two middle ones for an even count. ValueError: none given."""
    ordered = sorted(values)
    if not ordered:
        raise ValueError("no values: the sensor gave nothing")
    half = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[half]
    return (ordered[half - 1] + ordered[half]) / 2


def burst(read, count):
    """Read `count` times and return (median, spread) in the sensor's own unit, or None where most reads failed.

    `read` raises OSError when the sensor does not answer. The spread is the median distance from the median: wind and
    footsteps show in it, and a single wild value does not.
    """
    values = []
    for _ in range(count):
        try:
            values.append(read())
        except OSError:  # one read that failed: the others stand for it
            continue
    if len(values) * 2 <= count:
        return None
    middle = median(values)
    return middle, median([abs(value - middle) for value in values])
