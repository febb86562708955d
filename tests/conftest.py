"""Settings that every test shares."""

from hypothesis import settings

# The same examples in every run: a suite that passes once passes again.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")
