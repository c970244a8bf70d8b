"""Settings of the test session."""

from hypothesis import settings

# the same examples every time, and no deadline: a busy machine must not turn a law into a failure
settings.register_profile("shallows", deadline=None, derandomize=True)
settings.load_profile("shallows")
