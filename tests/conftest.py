"""Marks of the test suite and the speed that property tests may take."""

import pytest
from hypothesis import settings

MARKS = ("slow: builds or installs something; leave out with -m 'not slow'",)


def pytest_configure(config: pytest.Config) -> None:
    """Make the marks known, and set no time limit per example: two workers share two cores."""
    for mark in MARKS:
        config.addinivalue_line("markers", mark)
    settings.register_profile("cvlib", deadline=None)
    settings.load_profile("cvlib")
