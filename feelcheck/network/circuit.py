"""The step response of the network, exact: linear pieces joined where a weak sink lets go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

from feelcheck.model import FloatArray
from feelcheck.model.parts import BoardNetwork

__all__ = ["Edge", "Piece", "edge", "poles_s"]

SMALLEST_OHM = 0.01
HORIZON = 25.0  # slowest time constants after which an edge is over (exp(-25) is 1e-11)
N_SEARCH = 400
_NO_WAY_OUT = (
    1e-13  # of the fastest rate: below it a rate is 0 but for rounding (a constant current, nothing to ground)
)
_SLOW = 1e-4  # time constants; below them two terms of the series are exact to 1e-9

Stage = tuple[float, float]
"""Current into the pin as ``J - g v``: (g in siemens, J in ampere)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A stretch of time in which the network is linear, as its k free motions: ``w' = -rate w + inflow``.

    Parameters
    ----------
    start_s : float
        When it begins.
    rates : ndarray, shape (k,), 1/s
        How fast each motion dies out, 0 where nothing leads its charge away; k capacitors have k motions.
    inflow, start : ndarray, shape (k,)
        What drives each motion, and where it starts.
    pin, out : ndarray, shape (k + 1,)
        What each motion, and the constant behind them, gives to the pin's and the output's voltage.
    """

    start_s: float
    rates: FloatArray
    inflow: FloatArray
    start: FloatArray
    pin: FloatArray
    out: FloatArray

    def at(self, t_s: FloatArray, row: FloatArray) -> FloatArray:
        """Return the voltage that `row` reads, at instants t_s of shape (n,), V.

        Parameters
        ----------
        t_s : ndarray, shape (n,), s
            Instants; those before the start count as the start.
        row : ndarray, shape (k + 1,)
            `pin` or `out`.
        """
        gone = np.maximum(t_s - self.start_s, 0.0)[:, None]
        motions = np.exp(-self.rates * gone) * self.start + _charged(self.rates, gone) * self.inflow
        return np.asarray(motions @ row[:-1] + row[-1])

    def volt_seconds(self, end_s: float, row: FloatArray) -> float:
        """Return the integral of the voltage that `row` reads from the start to an instant, V s.

        Parameters
        ----------
        end_s : float, s
            The instant up to which it is taken.
        row : ndarray, shape (k + 1,)
            `pin` or `out`.
        """
        gone = end_s - self.start_s
        once = _charged(self.rates, np.array(gone))
        slow = self.rates * gone < _SLOW
        fast = np.where(slow, 1.0, self.rates)
        twice = np.where(slow, gone**2 / 2 * (1 - self.rates * gone / 3), (gone - once) / fast)
        return float((once * self.start + twice * self.inflow) @ row[:-1] + row[-1] * gone)


def _charged(rates: FloatArray, gone_s: FloatArray) -> FloatArray:
    """What a unit inflow has made of each motion after a time: ``(1 - exp(-rate t)) / rate``, t where the rate is 0."""
    still = rates == 0
    return np.asarray(np.where(still, gone_s, -np.expm1(-rates * gone_s) / np.where(still, 1.0, rates)))


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
        """Return the output at instants t_s, shape (n,), V.

        Parameters
        ----------
        t_s : array-like, shape (n,), s
            Since the step.
        """
        return self._read(t_s, pin=False)

    def pin_v(self, t_s: ArrayLike) -> FloatArray:
        """Return the pin at instants t_s, shape (n,), V.

        Parameters
        ----------
        t_s : array-like, shape (n,), s
            Since the step.
        """
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
        """Return when the output has made `share` of its way, s.

        Parameters
        ----------
        share : float
            0 before the step, 1 settled.
        """
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
            total += (self.last_v * (end_s - piece.start_s) - piece.volt_seconds(end_s, piece.out)) / swing
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
    """Return the time constants in which the stage's own resistance drives the network, slowest first, s.

    Parameters
    ----------
    network : BoardNetwork
        The parts on the board.
    rising : bool
        Which direction: whether the volts rise.
    """
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
    """Return the linear system of one stage; nodes without a capacitor are eliminated.

    Notes
    -----
    With z = sqrt(C) v the system ``C v' = -G v + f`` has a symmetric matrix, so its rates are real and not negative.
    """
    conductance, inflow, capacitance = _nodal(network, stage)
    dynamic, still = np.flatnonzero(capacitance > 0), np.flatnonzero(capacitance == 0)
    k = dynamic.size
    rows = np.zeros((2, k + 1))
    rows[dynamic, np.arange(k)] = 1.0
    if still.size:
        solve = np.linalg.inv(conductance[np.ix_(still, still)])
        rows[still, :k] = -solve @ conductance[np.ix_(still, dynamic)]
        rows[still, k] = solve @ inflow[still]
    reduced = conductance[dynamic] @ rows
    root = np.sqrt(capacitance[dynamic])
    rates, shapes = np.linalg.eigh(reduced[:, :k] / np.outer(root, root))
    modes = shapes / root[:, None]
    return Piece(
        start_s=start_s,
        rates=np.where(rates > _NO_WAY_OUT * np.max(rates, initial=0.0), rates, 0.0),
        inflow=modes.T @ (inflow[dynamic] - reduced[:, k]),
        start=shapes.T @ (root * volts[dynamic]),
        pin=np.append(rows[0, :k] @ modes, rows[0, k]),
        out=np.append(rows[1, :k] @ modes, rows[1, k]),
    )


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
    return float((piece.inflow / piece.rates) @ row[:-1] + row[-1])


def _time_constants(piece: Piece) -> list[float]:
    return [float(1 / rate) for rate in piece.rates if rate > 0]


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
