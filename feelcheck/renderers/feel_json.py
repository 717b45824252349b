"""The JSON of `feelcheck feel`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import FeelResult
from feelcheck.renderers._json import dump, encoded

__all__ = ["FEEL_SCHEMA", "feel_document", "feel_json"]

FEEL_SCHEMA = "feelcheck.feel/1"


def feel_json(results: Sequence[FeelResult]) -> str:
    """Return one JSON document; a list under ``results`` for several specimens.

    Parameters
    ----------
    results : sequence of FeelResult
        One result a specimen.
    """
    documents = [feel_document(result) for result in results]
    return dump(documents[0] if len(documents) == 1 else {"schema": FEEL_SCHEMA, "results": documents})


def feel_document(result: FeelResult) -> dict[str, Any]:
    """Return the JSON object of one specimen.

    Parameters
    ----------
    result : FeelResult
        What the command gives.
    """
    return {"schema": FEEL_SCHEMA, **encoded(result)}
