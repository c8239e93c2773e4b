"""Which settings a decoder's firmware has, where they live, and which saved values do not fit.

The library is :mod:`cvlib.api`; its names are loaded here when they are first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cvlib.api import check_loco, open_store, read_loco, resolver_of

__all__ = ["__version__", "check_loco", "open_store", "read_loco", "resolver_of"]

__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """The library's names, from :mod:`cvlib.api`, on first use."""
    if name in __all__:
        from cvlib import api

        return getattr(api, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
