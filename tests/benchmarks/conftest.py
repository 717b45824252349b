"""Costs are those of an installed program: modules are compiled once, not in every process."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def compiled_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep compiled modules, ours and the libraries', in one folder of this run.

    Installing compiles; a checkout that may not write beside its modules would compile ours anew in each process while
    the libraries come compiled. Every measurement takes the cheapest of several runs, so that the first fills it.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        patch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path_factory.mktemp("compiled")))
        yield
