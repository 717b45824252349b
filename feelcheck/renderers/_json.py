"""Estimates as JSON objects; one place that knows how."""

from __future__ import annotations

import json
import math
from typing import Any

from feelcheck.model import Caveat, Estimate
from feelcheck.plain_text import json_escaped
from feelcheck.renderers._format import shown

__all__ = ["caveat_object", "dump", "estimate_object"]

_SIGNIFICANT_DIGITS = 9


def _rounded(number: float | None) -> float | None:
    if number is None or not math.isfinite(number):
        return None
    return float(f"{number:.{_SIGNIFICANT_DIGITS}g}")


def caveat_object(caveat: Caveat) -> dict[str, str]:
    """Return a caveat as a JSON object."""
    return {"code": caveat.code, "text": caveat.text, "advice": caveat.advice}


def estimate_object(estimate: Estimate) -> dict[str, Any]:
    """Return an estimate as a JSON object: low and high are the 95 % interval, unknown numbers null, times in ms.

    Examples
    --------
    >>> estimate_object(Estimate.at_most("time_constant", 0.001, unit="s"))["high"]
    1.0
    """
    view = shown(estimate)
    return {
        "value": _rounded(view.value),
        "low": _rounded(view.low),
        "high": _rounded(view.high),
        "u": _rounded(view.u),
        "unit": view.unit,
        "n": estimate.n,
        "status": str(estimate.status),
        "caveats": [caveat_object(caveat) for caveat in estimate.caveats],
    }


def dump(document: dict[str, Any]) -> str:
    """Return the document as JSON text; refuses NaN and infinities, escapes what acts on terminals."""
    return json_escaped(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))
