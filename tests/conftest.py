"""For all tests: how hypothesis goes about it."""

from hypothesis import HealthCheck, settings

# Machines that run tests are often busy; how long one example takes says nothing about the program.
settings.register_profile("hivemon", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("hivemon")
