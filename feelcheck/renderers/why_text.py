"""The text and the JSON document of `feelcheck why` (schema feelcheck.why/1)."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from typing import Any

from feelcheck.model import Estimate
from feelcheck.model.why import Decider, Explained, Why
from feelcheck.numerics.uncertainty import coverage_factor
from feelcheck.renderers._format import format_difference, format_estimate, format_plain
from feelcheck.renderers._json import displayed, dump, encoded, picked
from feelcheck.renderers._table import text_table, wrapped

__all__ = ["WHY_SCHEMA", "why_document", "why_json", "why_text"]

WHY_SCHEMA = "feelcheck.why/1"
UNTOLD = "in one piece"
"""Where an uncertainty is a single reckoning, or its parts are not kept."""
MANY_DOF = 100
"""From here on Student's t is the normal distribution in the digits shown."""


def why_text(result: Why) -> str:
    """Return each number with the terms of its uncertainty, its remarks, what decided; each reason once, at the end.

    Parameters
    ----------
    result : Why
        The explanation.
    """
    deciders = {decider.name: decider for one in result.numbers for decider in one.deciders}
    parts = [_one(one, result) for one in result.numbers]
    return "\n\n".join([*parts, *([_reasons(list(deciders.values()))] if deciders else [])])


def _one(one: Explained, result: Why) -> str:
    place = ", ".join(filter(None, (one.part, one.axis, one.direction)))
    name = result.quantity.replace("_", " ")
    told = format_estimate(one.estimate) if one.compared is None else _difference(one)
    head = f"{name}{f' ({place})' if place else ''}: {told}"
    return "\n".join(part for part in (head, _terms(one), _decided(one.deciders), _remarks(one)) if part)


def _difference(one: Explained) -> str:
    assert one.compared is not None
    margin = format_plain(one.compared.margin, one.estimate.unit)
    return f"{format_difference(one.estimate, one.compared.margin)}, margin {margin}: {one.compared.verdict}"


def _terms(one: Explained) -> str:
    estimate = one.estimate
    if estimate.u is None:
        return ""
    by: dict[str, str] = {}
    for decider in one.deciders:
        by[decider.sets] = ", ".join(filter(None, (by.get(decider.sets, ""), decider.name)))
    rows = [
        (words, format_u(u, estimate.unit), f"{100 * share:.0f} %", by.get(words, ""))
        for words, u, share in shares(estimate)
    ]
    whole = ("together", format_u(estimate.u, estimate.unit), "", "")
    table = text_table(("", "u", "share", "set by"), [*rows, whole], indent="    ")
    return f"  Standard uncertainty\n{table}\n{_coverage(estimate)}"


def _coverage(estimate: Estimate) -> str:
    """Return how the interval follows from u."""
    freedom = f", of {estimate.dof:.3g} degrees of freedom" if estimate.dof < MANY_DOF else ""
    how = "the value times or over exp(k u / value)" if estimate.scale == "log" else "the value +- k u"
    return f"    The interval is {how}; k = {coverage_factor(estimate.dof):.3g} covers 95 %{freedom}."


def shares(estimate: Estimate) -> list[tuple[str, float, float]]:
    """Return words, u and share of the variance of each term, the largest first.

    Parameters
    ----------
    estimate : Estimate
        One with a value.

    Examples
    --------
    >>> shares(Estimate.measured("time_constant", 0.01, u=0.0, unit="s"))
    []
    """
    whole = estimate.u or 0.0
    terms = [(term.words, term.u) for term in estimate.terms] or [(UNTOLD, whole)]
    ordered = sorted(terms, key=lambda term: -term[1])
    return [(words, u, (u / whole) ** 2) for words, u in ordered if whole]


def format_u(u: float, unit: str) -> str:
    """Return a standard uncertainty in two digits with its unit: ``"0.15 ms"``.

    Parameters
    ----------
    u : float
        Standard uncertainty, in the unit.
    unit : str
        Unit of the number.
    """
    return format_plain(u, unit, n_digits=2)


def _decided(deciders: Iterable[Decider]) -> str:
    names = [decider.name for decider in deciders if not decider.sets]
    return f"  Decided by {', '.join(names)}" if names else ""


def _reasons(deciders: Collection[Decider]) -> str:
    lines = ["The numbers that had a say"]
    for one in deciders:
        unit = "" if one.unit == "1" else f" {one.unit}"
        lines.append(wrapped(f"{one.name} = {one.value:g}{unit}: {one.reason}.", first="  ", rest="    "))
    counted = [one for one in deciders if one.command]
    if counted:
        lines += ["What another value would do, for those found by trial (in a copy of the project):"]
        lines += [f"  {one.command}" for one in counted]
    return "\n".join(lines)


def _remarks(one: Explained) -> str:
    said = [f"{caveat.text} {caveat.advice}".strip() for caveat in one.estimate.caveats]
    if one.compared is not None:
        said = [one.compared.why, *said] if one.compared.why else said
    return "\n".join(["  Because", *(wrapped(text, first="    ", rest="    ") for text in said)]) if said else ""


def why_document(result: Why) -> dict[str, Any]:
    """Return the JSON object: terms in the estimate's unit with their share of the variance.

    Parameters
    ----------
    result : Why
        What the command gives.
    """
    return {
        "schema": WHY_SCHEMA,
        **picked(result, "path", "quantity"),
        "against": result.against or None,
        "numbers": [_number(one) for one in result.numbers],
    }


def _number(one: Explained) -> dict[str, Any]:
    unit = one.estimate.unit
    document = {
        **picked(one, "part", "axis"),
        "direction": one.direction or None,
        "estimate": encoded(one.estimate),
        "terms": [{"words": w, "u": displayed(u, unit), "share": share} for w, u, share in shares(one.estimate)],
        "coverage": _coverage_document(one.estimate),
        **picked(one, "deciders"),
    }
    if one.compared is None:
        return document
    row = one.compared
    judged = picked(row, "verdict", "why", "p_difference", "p_equivalence", "scope")
    return {**document, **judged, "margin": displayed(row.margin, unit)}


def _coverage_document(estimate: Estimate) -> dict[str, Any] | None:
    if estimate.u is None:
        return None
    freedom = None if math.isinf(estimate.dof) else estimate.dof
    return {"k": coverage_factor(estimate.dof), "degrees_of_freedom": freedom, "scale": estimate.scale}


def why_json(result: Why) -> str:
    """Return the explanation as one JSON document.

    Parameters
    ----------
    result : Why
        The explanation.
    """
    return dump(why_document(result))
