"""Settings of the test session."""

from hypothesis import settings

# the same examples every time, and no deadline: a busy machine must not turn a law into a failure
settings.register_profile("shallows", deadline=None, derandomize=True)
settings.load_profile("shallows")


def pytest_collection_modifyitems(items):
    """Files that open pages come first: begun last, one of them keeps a single core busy to the end."""
    items.sort(key=lambda item: not item.nodeid.startswith("tests/test_"))
