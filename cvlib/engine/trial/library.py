"""The libraries that do the sums: there, or one line that says how to get them."""

from __future__ import annotations

from importlib.util import find_spec

from cvlib.errors import problem

NEEDED = ("numpy", "scipy")
"""What the extra "statistics" installs; imported inside functions, for they load slowly."""


def check_statistics() -> None:
    """Raise :class:`~cvlib.errors.InputError` where numpy or scipy is not installed."""
    lacking = [name for name in NEEDED if find_spec(name) is None]
    if lacking:
        raise problem(
            f"{' and '.join(lacking)} {'is' if len(lacking) == 1 else 'are'} not installed; "
            "the sums of trials and of matching need them.",
            advice='Install them with: python -m pip install "dcc-cvlib[statistics]"',
        )
