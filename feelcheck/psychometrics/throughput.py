"""Throughput of an aiming task after ISO 9241-411: effective width, index of difficulty, error rate."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.model import Caveat, Estimate
from feelcheck.psychometrics.forced_choice import proportion_of
from feelcheck.psychometrics.numbers import LEAST_MOVES

__all__ = ["AimedMove", "error_rate", "sequence_figures", "throughput_of"]

EFFECTIVE = math.sqrt(2 * math.pi * math.e)
ONE_SEQUENCE = Caveat(
    code="one_sequence",
    text="The interval is that of the movements of one sequence; other sequences on another day spread more.",
    advice="Aim in several sequences.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AimedMove:
    """One aimed movement: from where, to where, where it was selected, and how long it took.

    Parameters
    ----------
    start, target, selected : tuple of float
        Places in one unit of length.
    took_s : float, s
        From the selection before to this one.
    missed : bool
        Whether the selection was outside the target.
    """

    start: tuple[float, float]
    target: tuple[float, float]
    selected: tuple[float, float]
    took_s: float
    missed: bool

    @property
    def amplitude(self) -> float:
        """Distance from start to target."""
        return math.dist(self.start, self.target)

    @property
    def overshoot(self) -> float:
        """How far along the way from start to target the selection lies beyond the target; negative before it."""
        a = self.amplitude
        return (math.dist(self.start, self.selected) ** 2 - math.dist(self.selected, self.target) ** 2 - a * a) / (
            2 * a
        )


def sequence_figures(moves: Sequence[AimedMove]) -> Mapping[str, float]:
    """Return throughput (bit/s), effective amplitude and width, effective index (bit) and mean time (s) of a sequence.

    Parameters
    ----------
    moves : sequence of AimedMove
        Movements to targets, one after the other.

    Notes
    -----
    The movements follow one another: each begins where the one before was selected, so its way is longer or shorter by
    that overshoot. Width: 4.133 standard deviations (n - 1) of the overshoots.

    References
    ----------
    ISO/TS 9241-411:2012, and MacKenzie, I. S. and Soukoreff, R. W., documentation of their throughput calculation
    (2013 to 2016), whose worked example the tests hold.
    """
    beyond = np.array([move.overshoot for move in moves])
    ways = np.array([move.amplitude for move in moves]) + beyond
    ways[1:] += beyond[:-1]
    width = EFFECTIVE * float(np.std(beyond, ddof=1))
    amplitude, took_s = float(ways.mean()), float(np.mean([move.took_s for move in moves]))
    index = math.log2(amplitude / width + 1.0) if width > 0 and amplitude > 0 else 0.0
    return {
        "throughput": index / took_s,
        "effective_amplitude": amplitude,
        "effective_width": width,
        "effective_index": index,
        "mean_time": took_s,
    }


def throughput_of(sequences: Sequence[Sequence[AimedMove]], name: str = "throughput") -> Estimate:
    """Return a figure of several sequences: their mean, its uncertainty from their spread; jackknifed if there is one.

    Parameters
    ----------
    sequences : sequence of sequence of AimedMove
        The moves of each sequence.
    name : str, optional
        The figure.

    Notes
    -----
    One throughput a sequence, then the mean; raw movements are never pooled. A single sequence is jackknifed over its
    movements.
    """
    unit = {"throughput": "bit/s", "mean_time": "s", "effective_index": "bit"}.get(name, "fraction")
    usable = [moves for moves in sequences if len(moves) >= LEAST_MOVES and sequence_figures(moves)[name] > 0]
    n = sum(len(moves) for moves in usable)
    if not usable:
        return Estimate.not_resolved(name, unit=unit)
    values = np.array([sequence_figures(moves)[name] for moves in usable])
    if len(usable) > 1:
        u = float(values.std(ddof=1) / math.sqrt(values.size))
        return Estimate.measured(name, float(values.mean()), u=u, unit=unit, n=n, dof=values.size - 1)
    moves = usable[0]
    left_out = np.array([sequence_figures([*moves[:k], *moves[k + 1 :]])[name] for k in range(n)])
    u = math.sqrt((n - 1) / n * float(np.sum((left_out - left_out.mean()) ** 2)))
    return Estimate.measured(name, float(values[0]), u=u, unit=unit, n=n, dof=n - 1, caveats=(ONE_SEQUENCE,))


def error_rate(sequences: Sequence[Sequence[AimedMove]]) -> Estimate:
    """Return the share of selections outside their target, with its exact interval.

    Parameters
    ----------
    sequences : sequence of sequence of AimedMove
        The moves of each sequence.
    """
    missed = [move.missed for moves in sequences for move in moves]
    return proportion_of(sum(missed), len(missed), "error_rate")
