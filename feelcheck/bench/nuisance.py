"""What small effects of real circuits and instruments would change that no chosen candidate has."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from feelcheck.bench.fit import ModelFit, integrated_correlation
from feelcheck.bench.numbers import CURVED, EFFECT, HIGHEST_LOG_WEIGHT, MOST_FITS, ODDS, TAIL
from feelcheck.bench.response_models import separable_model, shape_response
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.separable import jacobian

__all__ = ["bent_spread", "nuisance_spread"]


def nuisance_spread(fits: Sequence[ModelFit], slope: Callable[[ModelFit], FloatArray], delays: bool = False) -> float:
    """Return the standard uncertainty of a quantity from effects beside the chosen candidate.

    Parameters
    ----------
    fits : sequence of ModelFit
        Edges of one direction; what an effect changes is the same in all of them.
    slope : callable
        From a fit to the quantity's slope by all its parameters, shape (p,).
    delays : bool
        Whether the quantity is a mean delay, to which an effect of the circuit adds its own.

    Notes
    -----
    Each effect is a column beside the model: the whole response later (a second pole, a dead time, channels that are
    sampled one after the other), spread to both sides (values that are held), a part at once (a resistance in series
    with the capacitor, a slow drive probe), a slow tail (a capacitor that soaks, an AC-coupled input), a part in step
    with the drive's slope (a wire beside the coil), a curve in either channel, a straight drift. Linear in its size,
    which has a normal prior, the effect's posterior and its Bayes factor against nothing are closed forms; the
    quantity's second moment about the chosen value is averaged over the effects and over none.

    References
    ----------
    J. A. Hoeting et al., Statist. Sci. 14 (1999) 382-417 (Bayesian model averaging).
    """
    found = [_spread(fit, slope(fit), delays) for fit in fits[:MOST_FITS] if fit.fit.full_rank]
    return float(np.median(found)) if found else 0.0


def bent_spread(fits: Sequence[ModelFit], slope: Callable[[ModelFit], FloatArray]) -> float:
    """Return the standard uncertainty of a quantity from characteristics that are not straight.

    Parameters
    ----------
    fits : sequence of ModelFit
        Edges of one direction; what a curve changes is the same in all of them.
    slope : callable
        From a fit to the quantity's slope by all its parameters, shape (p,).

    Notes
    -----
    Every sensor and every converter is a little bent, and a curve passes for a longer or a shorter pole: so this counts
    always, and is averaged with no other effect. A curve of the output, and one of a measured drive, each is off by
    `CURVED` in the middle between its levels, as far as the residuals leave room for that.
    """
    found = [_bent(fit, slope(fit)) for fit in fits[:MOST_FITS] if fit.fit.full_rank]
    return float(np.median(found)) if found else 0.0


def _bent(fit: ModelFit, slope: FloatArray) -> float:
    way, columns = _way(fit), _Columns(fit)
    curves = [_sized(fit, way * (1 - way)), *([_sized(fit, _drive_bent(fit))] if fit.window.driven else [])]
    total = 0.0
    for column in curves:
        moved, left = columns.taken_up(column)
        room = _posterior(fit, left, CURVED)[0] if columns.is_new(column, left) else float(CURVED) ** 2
        total += float(slope @ moved) ** 2 * room
    return float(np.sqrt(total))


class _Columns:
    """What a fit's own parameters can take up of any column."""

    def __init__(self, fit: ModelFit) -> None:
        n = fit.window.t_s.size
        self.j = jacobian(separable_model(fit.spec, fit.window, fit.scale_s), fit.fit.theta, fit.fit.coefficients, n)
        size = np.linalg.norm(self.j, axis=1)
        self.sound = bool(np.all(size > 0))
        self.inverse = np.linalg.pinv((self.j / size[:, None]).T, rcond=1e-5) / size[:, None] if self.sound else self.j

    def taken_up(self, column: FloatArray) -> tuple[FloatArray, FloatArray]:
        """By how much each parameter moves, and what is left."""
        if not self.sound:
            return np.zeros(self.j.shape[0]), column
        moved = self.inverse @ column
        return moved, column - moved @ self.j

    def is_new(self, column: FloatArray, left: FloatArray) -> bool:
        """Whether anything is left to be seen of it."""
        return float(left @ left) > 1e-12 * float(column @ column)


def _spread(fit: ModelFit, slope: FloatArray, delays: bool) -> float:
    t, columns = fit.window.t_s, _Columns(fit)
    if not columns.sound:
        return 0.0
    total, weights = 0.0, 1.0
    for column, is_own in _effects(fit):
        moved, left = columns.taken_up(column)
        if not columns.is_new(column, left):
            continue
        shift = float(slope @ moved) + (float(np.trapezoid(column, t)) / fit.window.swing if delays and is_own else 0.0)
        size_sq, weight = _posterior(fit, left, EFFECT)
        total += weight * shift**2 * size_sq
        weights += weight
    return float(np.sqrt(total / weights))


def _posterior(fit: ModelFit, left: FloatArray, sd: float) -> tuple[float, float]:
    """Mean square of an effect's size, and its Bayes factor, from what of its column no parameter can take up."""
    r, power = fit.fit.residuals, float(left @ left)
    rest = r - left * (float(left @ r) / power)
    variance = max(float(rest @ rest) / max(fit.fit.dof - 1, 1), 1e-14 * fit.window.swing**2)
    variance *= integrated_correlation(rest, fit.n_parameters + 1)
    precision = power / variance + 1 / sd**2
    mean = float(left @ r) / variance / precision
    log_weight = 0.5 * mean**2 * precision - 0.5 * np.log(sd**2 * precision) + np.log(ODDS)
    return mean**2 + 1 / precision, float(np.exp(min(log_weight, HIGHEST_LOG_WEIGHT)))


def _way(fit: ModelFit) -> FloatArray:
    """The response from 0 to 1, without what runs beside it."""
    first, last = fit.levels
    return np.asarray((fit.fit.fitted - fit.besides - first) / ((last - first) or 1.0))


def _sized(fit: ModelFit, column: FloatArray) -> FloatArray:
    """A column of the whole swing at its largest; as it is where it is nothing."""
    size = float(np.max(np.abs(column)))
    return column * (fit.window.swing / size) if size else column


def _effects(fit: ModelFit) -> list[tuple[FloatArray, bool]]:
    """Columns in the output's unit for effects of the whole swing at their largest, and which are the circuit's own."""
    t, way = fit.window.t_s, _way(fit)
    pace = np.gradient(way, t)
    found = [(-pace, True), (np.gradient(pace, t), True)]
    found += [(way * (1 - way), False), ((t - t[0]) / (t[-1] - t[0]), False)]
    if fit.poles_s:
        ready = DrivenInstants(Stimulus(t_s=t, u=way), t)
        found.append((ready.pole(TAIL * fit.main_pole_s, twice=False).once[0] - way, True))
    if fit.window.stimulus is not None and not fit.spec.weak:
        found += _of_drive(fit, way)
    return [(_sized(fit, column), own) for column, own in found if np.any(column)]


def _of_drive(fit: ModelFit, way: FloatArray) -> list[tuple[FloatArray, bool]]:
    """A part of the drive at once; where it was recorded, its slope, and what a curve in its channel would change."""
    drive = fit.window.instants.itself(fit.dead_s)[0][0]
    found = [(drive - way, True)] if fit.spec.n_shape else []
    if fit.window.driven:
        found += [(np.gradient(drive, fit.window.t_s), True), (_drive_bent(fit), True)]
    return found


def _drive_bent(fit: ModelFit) -> FloatArray:
    """What a curve through both levels of the drive's channel would change in the output."""
    assert fit.window.stimulus is not None
    u, n = fit.window.stimulus.u, fit.spec.n_shape
    if fit.spec.weak:
        return np.zeros(fit.window.t_s.size)
    ready, bent = fit.window.instants, (u * (1 - u))[None, :]
    answer = shape_response(ready, fit.spec.shape, fit.fit.theta[:n], fit.dead_s, bent, slopes=False)
    return np.asarray(answer.once[0])
