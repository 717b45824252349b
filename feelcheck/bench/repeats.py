"""Repeats of one capture become one result."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.boards import explain_board
from feelcheck.bench.measure import measure_response
from feelcheck.bench.positive import kept_positive
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, BenchResult, Capture, Caveat, Estimate, Status, Term
from feelcheck.numerics.uncertainty import NORMAL_95

__all__ = ["measure_repeats", "pool_repeats"]


def measure_repeats(captures: Sequence[Capture], *, drive: str | None = None, output: str | None = None) -> BenchResult:
    """Return one result from repeats of one capture; the scatter between them is part of the uncertainty.

    Parameters
    ----------
    captures : sequence of Capture
        Repeats: nothing was changed between them.
    drive, output : str, optional
        Column names.

    Raises
    ------
    NotEnoughDataError
        If there is no capture, or one of them holds no edge.

    Notes
    -----
    A value is the mean of the repeats; its standard uncertainty is the standard error of the mean with n - 1 degrees of
    freedom, or the mean's own from the single ones if that is larger. Where repeats disagree in status, the more
    cautious statement stands.
    """
    if not captures:
        raise NotEnoughDataError("Repeats need at least one capture.", {"captures": 0})
    return pool_repeats([measure_response(capture, drive=drive, output=output) for capture in captures])


def pool_repeats(results: Sequence[BenchResult]) -> BenchResult:
    """Return one result of repeats that were measured already; see `measure_repeats`.

    Parameters
    ----------
    results : sequence of BenchResult
        Results of the repeats, one a capture.
    """
    first = results[0]
    if len(results) == 1:
        return first
    pooled = replace(
        first,
        rising=_direction([result.rising for result in results]),
        falling=_direction([result.falling for result in results]),
        asymmetry=_pooled([result.asymmetry for result in results]),
        update_interval=_pooled([result.update_interval for result in results]),
        noise=_pooled([result.noise for result in results]),
        swing=_pooled([result.swing for result in results]),
        caveats=_together([result.caveats for result in results]),
    )
    pooled = kept_positive(pooled)
    return replace(pooled, explanation=explain_board(pooled) if first.explanation else ())


def _direction(parts: Sequence[BenchDirection | None]) -> BenchDirection | None:
    found = [part for part in parts if part is not None]
    if len(found) < 2:
        return found[0] if found else None
    first = found[0]
    merged: dict[str, object] = {}
    for field in fields(BenchDirection):
        values = [getattr(part, field.name) for part in found]
        if isinstance(values[0], Estimate):
            merged[field.name] = _pooled(values)
    shared = set.intersection(*(set(part.extra) for part in found))
    extra = {key: _pooled([part.extra[key] for part in found]) for key in sorted(shared)}
    same = len({part.model for part in found}) == 1
    n_poles = min(len(part.poles) for part in found) if same else 0
    poles = tuple(_pooled([part.poles[k] for part in found]) for k in range(n_poles))
    return replace(
        first,
        **merged,  # type: ignore[arg-type]
        poles=poles,
        saturated=any(part.saturated for part in found),
        n_edges=sum(part.n_edges for part in found),
        model=first.model if same else "unclear",
        extra=MappingProxyType(extra),
    )


def _pooled(estimates: Sequence[Estimate]) -> Estimate:
    first, n = estimates[0], len(estimates)
    caveats = _together([estimate.caveats for estimate in estimates])
    statuses = {estimate.status for estimate in estimates}
    if statuses == {Status.OK}:
        return _mean(estimates, caveats)
    if len(statuses) == 1 and first.bound is not None:
        pick: Callable[[list[float]], float] = max if first.status is Status.AT_MOST else min
        bound = pick([estimate.bound for estimate in estimates if estimate.bound is not None])
        return replace(first, bound=bound, n=n, caveats=caveats)
    if len(statuses) == 1:
        return replace(first, n=n, caveats=caveats)
    if statuses <= {Status.OK, Status.AT_MOST}:
        tops = [e.value + NORMAL_95 * e.u if e.value is not None and e.u is not None else e.bound for e in estimates]
        bound = max(top for top in tops if top is not None)
        return Estimate.at_most(first.quantity, bound, unit=first.unit, n=n, caveats=caveats)
    return Estimate.not_resolved(first.quantity, unit=first.unit, n=n, caveats=caveats)


def _mean(estimates: Sequence[Estimate], caveats: tuple[Caveat, ...]) -> Estimate:
    first, n = estimates[0], len(estimates)
    values = np.array([estimate.value for estimate in estimates], dtype=np.float64)
    inner = float(np.sqrt(sum((estimate.u or 0.0) ** 2 for estimate in estimates)) / n)
    spread = float(np.std(values, ddof=1) / np.sqrt(n))
    dof = float(n - 1) if spread >= inner else float(min(estimate.dof for estimate in estimates))
    words = "scatter of the repeats" if spread >= inner else "what each repeat says of itself"
    terms = (Term(words, max(inner, spread)),)
    return replace(
        first, value=float(np.mean(values)), u=max(inner, spread), n=n, dof=dof, caveats=caveats, terms=terms
    )


def _together(groups: Sequence[tuple[Caveat, ...]]) -> tuple[Caveat, ...]:
    known = {caveat.code: caveat for group in groups for caveat in group}
    return tuple(known.values())
