"""Entry point of the command line."""

from __future__ import annotations

import gc
import os

__all__ = ["main"]

OBJECTS_BEFORE_COLLECTION = 100_000


def main() -> None:
    """Run the command line.

    Notes
    -----
    The matrices are small, so a second thread of the linear algebra only spins; importing makes many objects and no
    garbage, so collecting begins later. Both save processor time alone; a number of threads that is set stands.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    from feelcheck.cli import app

    app()


if __name__ == "__main__":
    main()
