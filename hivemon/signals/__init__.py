"""From readings to clean series: the sun and hive days, faults and spikes, steps, weather. Pure functions of arrays."""
