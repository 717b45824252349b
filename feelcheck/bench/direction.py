"""All edges of one direction fitted by one model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.bench.area import EdgeReading, read_edge
from feelcheck.bench.choice import Choice, choose_model
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.numbers import DECIDED, N_CHOOSING, N_FITTED, REFUSED_MISFIT, SAME_AIM, WHOLE_MISFIT
from feelcheck.bench.windows import EdgeWindow, capped, late, turned

__all__ = ["DirectionFits", "fit_direction"]


@dataclass(frozen=True, kw_only=True, eq=False)
class DirectionFits:
    """The chosen candidate on every fitted edge of one direction."""

    choice: Choice
    fits: tuple[ModelFit, ...]
    readings: tuple[EdgeReading, ...]
    n_edges: int

    @property
    def shape(self) -> str:
        """The chosen shape."""
        return self.fits[0].spec.shape

    @property
    def has_zero(self) -> bool:
        """Whether a part of the output goes beside the first pole."""
        return self.fits[0].spec.zero

    @property
    def misfit(self) -> float:
        """Median structured misfit as a fraction of the swing."""
        return float(np.median([fit.misfit for fit in self.fits]))

    @property
    def fits_well(self) -> bool:
        """Whether the candidate explains the edges."""
        return self.misfit < REFUSED_MISFIT

    @property
    def shape_unclear(self) -> bool:
        """Whether an unfinished edge is explained about as well by a pole as by a weak sink with other times."""
        if self.fits[0].spec.weak or self.settled_fraction > 0.9:
            return False
        close = [fits for gain, fits in self.choice.rivals if fits[0].spec.weak and gain < DECIDED]
        return any(not self._same_decay(fits) for fits in close)

    def _same_decay(self, rival: Sequence[ModelFit]) -> bool:
        """Whether a rival decays towards ground with the time constant of the chosen pole."""
        if not rival[0].spec.shape.startswith("to_ground") or self.fits[0].spec.shape != "one_pole":
            return False
        ratios = [np.exp(r.fit.theta[0]) / f.main_pole_s for r, f in zip(rival, self.choice.best, strict=True)]
        return bool(abs(np.log(np.median(ratios))) < SAME_AIM)

    @property
    def settled_fraction(self) -> float:
        """Median way covered when the windows end."""
        return float(np.median([reading.settled_fraction for reading in self.readings]))


def fit_direction(windows: Sequence[EdgeWindow], averages: bool = False) -> DirectionFits | None:
    """Choose a model on a few edges and fit it to all of one direction; None without edges.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        All edges of one direction.
    averages : bool
        Whether a moving average is among the candidates.
    """
    if not windows:
        return None
    steps = [w for w in windows if w.stimulus is not None]
    alike = steps if len(steps) >= 0.5 * len(windows) else [w for w in windows if w.stimulus is None]
    alike = [w for w in alike if abs(w.swing) > 0.5 * max(abs(x.swing) for x in alike)]
    by_quality = sorted(alike, key=lambda w: (-round(w.span_s / max(w.duration_s, w.interval_s)), w.origin_s))
    chosen_by = by_quality[:N_CHOOSING]
    choice = choose_model(chosen_by, averages)
    for cut in (turned, late, capped):
        choice, by_quality = _or_cut(choice, by_quality, cut)
    rest = by_quality[N_CHOOSING:][: N_FITTED - len(chosen_by)]
    fits = (*choice.best, *(fit_spec(choice.spec, window, choice.best[0]) for window in rest))
    fits = _without_strays(fits)
    return DirectionFits(choice=choice, fits=fits, readings=tuple(read_edge(fit) for fit in fits), n_edges=len(windows))


def _or_cut(
    choice: Choice, windows: list[EdgeWindow], cut: Callable[[EdgeWindow], EdgeWindow | None]
) -> tuple[Choice, list[EdgeWindow]]:
    """Leave out the begin of the edges (up to the output's turning point, say) where the rest fits far better."""
    misfit = float(np.median([fit.misfit for fit in choice.best]))
    if misfit < WHOLE_MISFIT:
        return choice, windows
    shorter = [short for short in (cut(window) for window in windows) if short is not None]
    if len(shorter) < 0.5 * len(windows):
        return choice, windows
    other = choose_model(shorter[:N_CHOOSING])
    if other.spec.weak and cut is capped:
        return choice, windows
    if float(np.median([fit.misfit for fit in other.best])) < 0.5 * misfit:
        return other, shorter
    return choice, windows


def _without_strays(fits: tuple[ModelFit, ...]) -> tuple[ModelFit, ...]:
    """Leave out edges that fit far worse than the others (a glitch, a cut window)."""
    noise = float(np.median([fit.window.noise / abs(fit.window.swing) for fit in fits]))
    limit = 4 * float(np.median([fit.misfit for fit in fits])) + 0.005 + 0.5 * noise
    kept = tuple(fit for fit in fits if fit.misfit <= limit and fit.fit.converged)
    return kept or fits
