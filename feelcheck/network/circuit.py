"""The step response of the network, exact: linear pieces joined where a weak sink lets go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, optimize

from feelcheck.model import FloatArray
from feelcheck.model.parts import BoardNetwork

__all__ = ["Edge", "Piece", "edge", "poles_s"]

SMALLEST_OHM = 0.01
HORIZON = 25.0  # slowest time constants after which an edge is over (exp(-25) is 1e-11)
N_SEARCH = 400

Stage = tuple[float, float]
"""Current into the pin as ``J - g v``: (g in siemens, J in ampere)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A stretch of time in which the network is linear: ``x' = A x + b`` in one augmented matrix.

    Parameters
    ----------
    start_s : float
        When it begins.
    matrix : ndarray, shape (k + 1, k + 1), 1/s
        A and b over a row of zeros; k capacitors hold a state.
    state : ndarray, shape (k + 1,), V
        Voltages of the capacitors at the start, and 1.
    pin, out : ndarray, shape (k + 1,)
        Rows that give the pin's and the output's voltage.
    """

    start_s: float
    matrix: FloatArray
    state: FloatArray
    pin: FloatArray
    out: FloatArray

    def at(self, t_s: FloatArray, row: FloatArray) -> FloatArray:
        """Return the voltage that `row` reads, at instants t_s of shape (n,), V."""
        steps = linalg.expm(self.matrix[None] * (t_s - self.start_s)[:, None, None])
        return np.asarray(steps @ self.state @ row)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """One edge of the network's output.

    Parameters
    ----------
    pieces : tuple of Piece
        In order; the first starts at the step, 0 s.
    first_v, last_v : float, V
        Output before the step and when everything has settled.
    end_s : float
        When it has settled to better than 1e-10 of the swing.
    """

    pieces: tuple[Piece, ...]
    first_v: float
    last_v: float
    end_s: float

    def output_v(self, t_s: ArrayLike) -> FloatArray:
        """Return the output at instants t_s, shape (n,), V."""
        return self._read(t_s, pin=False)

    def pin_v(self, t_s: ArrayLike) -> FloatArray:
        """Return the pin at instants t_s, shape (n,), V."""
        return self._read(t_s, pin=True)

    def _read(self, t_s: ArrayLike, *, pin: bool) -> FloatArray:
        times = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        result = np.full(times.shape, self.first_v)
        for piece in self.pieces:
            now = times >= piece.start_s
            if np.any(now):
                result[now] = piece.at(times[now], piece.pin if pin else piece.out)
        return result

    def crossing_s(self, share: float) -> float:
        """Return when the output has made `share` of its way, s."""
        target = self.first_v + share * (self.last_v - self.first_v)
        sign = np.sign(self.last_v - self.first_v)

        def ahead(t_s: float) -> float:
            return float(sign * (self.output_v(t_s)[0] - target))

        times = _search_times(self.end_s)
        beyond = np.flatnonzero(sign * (self.output_v(times) - target) >= 0)
        if beyond.size == 0 or beyond[0] == 0:
            return 0.0
        before, after = times[beyond[0] - 1], times[beyond[0]]
        return float(optimize.brentq(ahead, before, after, xtol=1e-15, rtol=1e-12))

    def area_s(self) -> float:
        """Return the area above the normalised step, s: integral of 1 - s(t), exact piece by piece."""
        total = 0.0
        ends = (*(piece.start_s for piece in self.pieces[1:]), self.end_s)
        swing = self.last_v - self.first_v
        for piece, end_s in zip(self.pieces, ends, strict=True):
            # Integral of the state by one more augmented row.
            k = piece.matrix.shape[0]
            wide = np.zeros((k + 1, k + 1))
            wide[:k, :k] = piece.matrix
            wide[k, :k] = piece.out
            start = np.append(piece.state, 0.0)
            volt_seconds = float((linalg.expm(wide * (end_s - piece.start_s)) @ start)[k])
            total += (self.last_v * (end_s - piece.start_s) - volt_seconds) / swing
        return total


def edge(network: BoardNetwork, *, rising: bool) -> Edge:
    """Return the output's edge after the target steps from one level to the other.

    Parameters
    ----------
    network : BoardNetwork
        Parts and levels.
    rising : bool
        Direction of the step.

    Notes
    -----
    A weak sink takes what it can (a constant current, or a resistor to ground) until the stage's own resistance would
    take less; from there on the edge is that of the resistance. Both parts are linear, so the only search is for the
    instant between them.
    """
    first, last = (network.low_v, network.high_v) if rising else (network.high_v, network.low_v)
    before = _settled(network, _towards(network, first, rising=not rising))
    strong = _towards(network, last, rising=rising)
    final = _piece(network, strong, 0.0, before)
    last_v = float(_steady(final, final.out))
    first_v = float(before[1])
    stores = network.pin_f + network.behind_f > 0
    weak = None if rising or not stores else _weak(network)
    if weak is None:
        return Edge(pieces=(final,), first_v=first_v, last_v=last_v, end_s=_over(final))
    slow = _piece(network, weak, 0.0, before)
    free_s = _release(network, slow, weak, strong)
    if free_s is None:
        return Edge(pieces=(final,), first_v=first_v, last_v=last_v, end_s=_over(final))
    at = np.array([slow.at(np.array([free_s]), row)[0] for row in (slow.pin, slow.out)])
    after = _piece(network, strong, free_s, at)
    return Edge(pieces=(slow, after), first_v=first_v, last_v=last_v, end_s=free_s + _over(after))


def poles_s(network: BoardNetwork, *, rising: bool) -> tuple[float, ...]:
    """Return the time constants in which the stage's own resistance drives the network, slowest first, s."""
    level = network.high_v if rising else network.low_v
    piece = _piece(network, _towards(network, level, rising=rising), 0.0, np.zeros(2))
    return tuple(sorted(_time_constants(piece), reverse=True))


def _towards(network: BoardNetwork, target_v: float, *, rising: bool) -> Stage:
    stage = network.stage
    ohm = stage.sink_ohm if stage.sink == "resistance" and not rising else stage.source_ohm
    conductance = 1 / max(ohm or 0.0, SMALLEST_OHM)
    return conductance, conductance * target_v


def _weak(network: BoardNetwork) -> Stage | None:
    stage = network.stage
    if stage.sink == "current" and stage.sink_a is not None:
        return 0.0, -stage.sink_a
    if stage.sink == "pull_down" and stage.sink_ohm is not None:
        return 1 / stage.sink_ohm, 0.0
    return None


def _piece(network: BoardNetwork, stage: Stage, start_s: float, volts: FloatArray) -> Piece:
    """Return the linear system of one stage; nodes without a capacitor are eliminated."""
    conductance, inflow, capacitance = _nodal(network, stage)
    dynamic, still = np.flatnonzero(capacitance > 0), np.flatnonzero(capacitance == 0)
    k = dynamic.size
    rows = np.zeros((2, k + 1))
    rows[dynamic, np.arange(k)] = 1.0
    if still.size:
        solve = np.linalg.inv(conductance[np.ix_(still, still)])
        rows[still, :k] = -solve @ conductance[np.ix_(still, dynamic)]
        rows[still, k] = solve @ inflow[still]
    matrix = np.zeros((k + 1, k + 1))
    flow = -conductance[dynamic] @ rows
    flow[:, k] += inflow[dynamic]
    matrix[:k] = flow / capacitance[dynamic, None]
    return Piece(start_s=start_s, matrix=matrix, state=np.append(volts[dynamic], 1.0), pin=rows[0], out=rows[1])


def _nodal(network: BoardNetwork, stage: Stage) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return conductances, inflow and capacitances of the nodes pin and output."""
    into, current = stage
    link = 1 / max(network.series_ohm, SMALLEST_OHM)
    load = 0.0 if network.load_ohm is None else 1 / network.load_ohm
    pin_f, behind_f = network.pin_f, network.behind_f
    if network.series_ohm == 0:  # both capacitors sit on one node; the pin follows it
        pin_f, behind_f = 0.0, pin_f + behind_f
    conductance = np.array([[into + link, -link], [-link, link + load]])
    return conductance, np.array([current, 0.0]), np.array([pin_f, behind_f])


def _settled(network: BoardNetwork, stage: Stage) -> FloatArray:
    conductance, inflow, _ = _nodal(network, stage)
    return np.asarray(np.linalg.solve(conductance, inflow))


def _steady(piece: Piece, row: FloatArray) -> float:
    k = piece.matrix.shape[0] - 1
    state = np.append(-np.linalg.solve(piece.matrix[:k, :k], piece.matrix[:k, k]), 1.0) if k else np.ones(1)
    return float(row @ state)


def _time_constants(piece: Piece) -> list[float]:
    k = piece.matrix.shape[0] - 1
    rates = -np.linalg.eigvals(piece.matrix[:k, :k]).real
    return [float(1 / rate) for rate in rates if rate > 0]


def _over(piece: Piece) -> float:
    return HORIZON * max(_time_constants(piece), default=0.0)


def _release(network: BoardNetwork, slow: Piece, weak: Stage, strong: Stage) -> float | None:
    """Return when the stage's own resistance takes less than the weak sink can, None if it does so from the start."""

    def margin(t_s: FloatArray) -> NDArray[np.float64]:
        pin = slow.at(t_s, slow.pin)
        return np.asarray((strong[1] - strong[0] * pin) - (weak[1] - weak[0] * pin))

    if margin(np.zeros(1))[0] >= 0:
        return None
    total_f = network.pin_f + network.behind_f
    ramp_s = total_f * network.high_v / max(-weak[1], 1e-30) if weak[1] else 0.0
    limit_s = 4 * ramp_s + HORIZON * (max(_time_constants(slow), default=0.0) + network.series_ohm * network.behind_f)
    times = _search_times(limit_s)
    beyond = np.flatnonzero(margin(times) >= 0)
    if beyond.size == 0:
        return float(limit_s)
    before, after = times[beyond[0] - 1], times[beyond[0]]
    return float(optimize.brentq(lambda t: float(margin(np.array([t]))[0]), before, after, xtol=1e-15, rtol=1e-12))


def _search_times(end_s: float) -> FloatArray:
    if end_s <= 0:
        return np.zeros(1)
    return np.concatenate(([0.0], np.geomspace(1e-7 * end_s, end_s, N_SEARCH)))
