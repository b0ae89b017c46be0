"""The power budget: what a node draws on average, and how long a cell lasts. Pure arithmetic."""


def average_ma(sleep_ma, wakes):
    """Return the mean current in mA. `wakes`: (mA while awake, seconds awake, wakes an hour) for each kind of wake."""
    awake = sum([seconds * per_hour for _, seconds, per_hour in wakes])
    if awake > 3600:
        raise ValueError("awake for more than an hour every hour")
    drawn = sum([ma * seconds * per_hour for ma, seconds, per_hour in wakes])
    return (sleep_ma * (3600 - awake) + drawn) / 3600


def days(capacity_mah, usable, mean_ma):
    """Return how many days a cell lasts; `usable` is the part of its capacity there is in the cold and with age."""
    return capacity_mah * usable / (mean_ma * 24)


def panel_watts(mean_ma, volts, sun_hours, kept):
    """Return the rated watts of a panel that covers a day. `sun_hours`: of full sun; `kept`: what losses leave."""
    return mean_ma / 1000 * volts * 24 / (sun_hours * kept)
