"""Invented hive recordings with their truth, made from physics and biology, and the program that makes them.

Nothing here depends on the daemon: only numpy and the standard library. Run ``python -m sample_streams
--list``.

Words are those of the project (yard, hive, hive day, net gain, flow, dearth, handling). Times inside are
whole seconds UTC since 1970; masses kg; temperatures °C; humidity %RH; rain mm; wind m/s; sun W/m².
"""
