"""The tool's own documents as renderers: what stands behind its entry points of that family."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from feelcheck.renderers.bench_json import bench_json
from feelcheck.renderers.bench_text import bench_text
from feelcheck.renderers.compare_json import compare_json
from feelcheck.renderers.compare_text import compare_text
from feelcheck.renderers.hand_json import hand_json
from feelcheck.renderers.hand_text import hand_text
from feelcheck.renderers.report import report_html

__all__ = ["BENCH_JSON", "BENCH_TEXT", "COMPARE_JSON", "COMPARE_TEXT", "HAND_JSON", "HAND_TEXT", "REPORT", "Document"]


@dataclass(frozen=True, slots=True)
class Document:
    """A renderer made of one function.

    Parameters
    ----------
    name : str
        As in ``--as``.
    takes : tuple of str
        Results that it understands.
    suffix : str
        How files of it end.
    render : callable
        Takes the result, returns the document.
    """

    name: str
    takes: tuple[str, ...]
    suffix: str
    render: Callable[[Any], str | bytes]


HAND_TEXT = Document("hand_text", ("hand",), ".txt", hand_text)
HAND_JSON = Document("hand_json", ("hand",), ".json", hand_json)
BENCH_TEXT = Document("bench_text", ("bench",), ".txt", bench_text)
BENCH_JSON = Document("bench_json", ("bench",), ".json", bench_json)
COMPARE_TEXT = Document("compare_text", ("comparison",), ".txt", compare_text)
COMPARE_JSON = Document("compare_json", ("comparison",), ".json", compare_json)
REPORT = Document("report", ("report",), ".html", report_html)
