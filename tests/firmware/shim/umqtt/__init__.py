"""Stands in for MicroPython's umqtt on CPython."""
