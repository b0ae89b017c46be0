"""From counts of a bridge converter to kilograms. Pure arithmetic; runs on MicroPython and CPython.

`kg = counts * scale + offset`, then less what the scale's own temperature adds. Single-precision floats, as small chips
have them, carry 24 bits: enough for the 24-bit converter, whose last bits are noise.
"""


def two_point(counts_empty, counts_loaded, known_kg):
    """Return (scale in kg per count, offset in kg) from the bare stand and one known mass on it.

    ValueError: the mass is not above nothing, or the counts hardly moved.
    """
    if known_kg <= 0:
        raise ValueError("the known mass must be more than 0 kg")
    moved = counts_loaded - counts_empty
    if abs(moved) < 1000:
        raise ValueError("the mass moved the counts by less than 1000: check wiring, gain and that the stand is free")
    scale = known_kg / moved
    return scale, -counts_empty * scale


def kilograms(counts, scale, offset):
    """Return the uncorrected weight, kg."""
    return counts * scale + offset


def temperature_coefficient(celsius, kg):
    """Return the least-squares slope, kg per °C, of a load that did not change while the temperature of the cell did.

    ValueError: fewer than three readings, or less than 5 °C between the coldest and the warmest: too little to tell.
    """
    if len(celsius) != len(kg) or len(kg) < 3:
        raise ValueError("at least three pairs of temperature and weight are needed")
    if max(celsius) - min(celsius) < 5:
        raise ValueError("the temperatures span less than 5 degrees: wait for a colder night")
    mean_celsius = sum(celsius) / len(celsius)
    mean_kg = sum(kg) / len(kg)
    above = sum([(t - mean_celsius) * (w - mean_kg) for t, w in zip(celsius, kg)])
    return above / sum([(t - mean_celsius) ** 2 for t in celsius])


def corrected(kg, celsius, coefficient, reference_celsius):
    """Return the weight as it would read at the reference temperature, kg."""
    return kg - coefficient * (celsius - reference_celsius)


def misses(counts, masses_kg, scale, offset):
    """Return for each check mass what the scale shows too much (kg), to be set against the cell's class."""
    return [kilograms(c, scale, offset) - kg for c, kg in zip(counts, masses_kg)]
