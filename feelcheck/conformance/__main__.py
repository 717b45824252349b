"""``python -m feelcheck.conformance --plugin NAME``: hold an installed plugin against the suite of its family."""

from __future__ import annotations

import sys
from collections.abc import Sequence

__all__ = ["main"]


def main(arguments: Sequence[str]) -> int:
    """Run the suites and return pytest's exit code.

    Parameters
    ----------
    arguments : sequence of str
        ``--plugin NAME`` for each plugin, or package of plugins (all that are installed without one), ``--sample PATH``
        for each log that a reader of logs should read, and whatever pytest takes.
    """
    try:
        import pytest
    except ModuleNotFoundError:
        print("The suites need pytest: install it beside feelcheck.", file=sys.stderr)
        return 2
    suites = ["--pyargs", "feelcheck.conformance", "-p", "feelcheck.conformance.choice", "-p", "no:cacheprovider"]
    return int(pytest.main([*suites, *arguments]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
