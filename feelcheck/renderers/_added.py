"""What metrics of other packages found, as rows for text and page."""

from __future__ import annotations

from feelcheck.model import HandResult
from feelcheck.renderers._format import format_object
from feelcheck.renderers._rows import estimate_rows
from feelcheck.renderers.hand_json import hand_document

__all__ = ["ADDED_HEADER", "added_rows"]

ADDED_HEADER = ("axis", "code", "quantity", "value", "package")


def added_rows(result: HandResult) -> list[tuple[str, ...]]:
    """Return a row for each number that another package's metric added; see `ADDED_HEADER`."""
    if not result.added:
        return []
    return [
        (row.axis, row.direction, row.quantity.replace("_", " "), format_object(row.estimate), whose)
        for row in estimate_rows(hand_document(result))
        if (whose := result.added.get(row.quantity)) is not None
    ]
