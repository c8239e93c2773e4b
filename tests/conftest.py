"""Marks of the test suite and the speed that property tests may take."""

import pytest
from hypothesis import settings

MARKS = (
    "slow: builds or installs something; leave out with -m 'not slow'",
    "long: the same as a test beside it, of very many cases; run only with --long",
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--long` runs the long form of laws and simulations too; it takes an hour or more."""
    parser.addoption("--long", action="store_true", help="run the tests of very many cases too")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the long tests, unless they are asked for."""
    if not config.getoption("--long"):
        chosen = [item for item in items if item.get_closest_marker("long") is None]
        config.hook.pytest_deselected(items=[item for item in items if item not in chosen])
        items[:] = chosen


def pytest_configure(config: pytest.Config) -> None:
    """Make the marks known, and set no time limit per example: two workers share two cores."""
    for mark in MARKS:
        config.addinivalue_line("markers", mark)
    settings.register_profile("cvlib", deadline=None)
    settings.load_profile("cvlib")
