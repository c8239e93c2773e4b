"""Where the command ``cvlib`` starts."""

from __future__ import annotations

import gc
import sys

from cvlib import __version__

INTERRUPTED = 130
"""The exit code after an interrupt, known before anything is loaded."""


def main() -> int:
    """The exit code of the command line; prints the version without loading anything else."""
    arguments = sys.argv[1:]
    if arguments[:1] == ["--version"]:
        print(f"cvlib {__version__}")  # noqa: T201 -- the version is the result
        return 0
    gc.set_threshold(100_000, 20, 20)  # a short run makes little garbage and many facts that stay
    try:
        from cvlib.cli.app import run
    except KeyboardInterrupt:
        return INTERRUPTED
    try:
        return run(arguments)
    finally:
        gc.freeze()  # spares the last collection a walk over facts that go with the process


if __name__ == "__main__":
    sys.exit(main())
