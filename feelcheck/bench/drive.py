"""Which column drives, which one answers; the drive freed of its noise and judged."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from feelcheck.bench.drive_shape import shaped_transition
from feelcheck.bench.edges import Edge, find_edges
from feelcheck.bench.levels import Trace1D, block_average, converter_step, noise_rms, prepare
from feelcheck.bench.numbers import (
    ALIKE_DRIVES,
    CUT_NOISE,
    CUT_RUN,
    CUT_SHARE,
    DRIVES_QUICKER,
    MIDWAY_NOISE,
    QUANTILE_SAMPLES,
    REPEATED,
    SHAPE_SAMPLES,
    STRAIGHT,
    SWEEPS,
    TAIL_DURATIONS,
)
from feelcheck.bench.waves import is_wave, refuse_wave
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Capture, Caveat, Channel, FloatArray
from feelcheck.numerics.filters import savitzky_golay

__all__ = ["choose_channels", "denoised", "further_outputs", "is_sweep", "judge_drive", "rests_midway"]

WIDTHS = (5, 9, 17, 33, 65)
FIELD_WORDS = re.compile(r"field|hall|gauss|tesla|\bref", re.IGNORECASE)
CURRENT_WORDS = re.compile(r"curr|shunt|coil|\bi_|amp", re.IGNORECASE)

NO_DRIVE = Caveat(
    code="includes_drive",
    text="There is no drive column: each edge is taken as a step, so the response includes the drive's own transition.",
    advice="Record the coil current or a field reference on a second channel.",
)
CUT_OFF = Caveat(
    code="drive_cut_off",
    text="The drive leaves the screen: its plateau is cut at the end of the channel's range, so its levels and its own"
    " slowness are understated, and the response is overstated.",
    advice="Give the drive's channel more range, so that both plateaus show their noise, and capture again.",
)
COMMAND = Caveat(
    code="drive_is_command",
    text="The drive switches within three samples, like a command: the field at the die follows later and slower.",
    advice="Record the coil current or a field reference, or subtract the bench's lag seen with the fastest sensor.",
)
COIL_CURRENT = Caveat(
    code="current_is_not_field",
    text="Coil current is not the field at the die: core and eddy currents add a lag of their own.",
    advice="Take time constants below the drive's own transition as upper limits unless a field reference was used.",
)
FLAT_DRIVE = Caveat(
    code="drive_without_edge",
    text="The drive column holds no edge that stands out of its noise and was left aside.",
    advice="Check the probe and range of the drive channel, or name another column with --drive.",
)


def choose_channels(
    capture: Capture, drive: str | None = None, output: str | None = None
) -> tuple[Trace1D | None, Trace1D, tuple[str | None, str], tuple[Caveat, ...]]:
    """Return the drive (or None) and the output, ready to be measured, their names and what is to be said about it.

    Parameters
    ----------
    capture : Capture
        The columns; their roles are used where the reader could tell them.
    drive, output : str, optional
        Column names that overrule the roles.

    Raises
    ------
    NotEnoughDataError
        If no column holds an edge, or the named output holds none, or a wave without a drive does.
    KeyError
        If a named column is not there.
    """
    ready = _Ready(capture)
    varying = [channel for channel in capture.channels if ready.edges(channel)]
    stepping = [channel for channel in varying if channel.role or not rests_midway(channel.values)]
    varying = stepping or varying
    named_drive = capture.channel(drive) if drive else None
    answer = capture.channel(output) if output else _answer(ready, varying, named_drive)
    source = named_drive or _source(ready, varying, answer)
    caveats: list[Caveat] = []
    if source is not None and source not in varying:
        caveats.append(FLAT_DRIVE)
        source = None
    if source is None:
        caveats.append(NO_DRIVE)
    if source is None and drive is None and output is None:
        answer = next((c for c in varying if c.role == answer.role == "" and c.unit == answer.unit), answer)
    alone = ready.trace(answer)
    edges = find_edges(alone)
    if source is None:
        refuse_wave(answer.name, alone, edges)
    pair = _together(ready, source, answer)
    return pair[0], pair[1], (source.name if source else None, answer.name), tuple(caveats)


class _Ready:
    """The channels of a capture made ready, each once."""

    def __init__(self, capture: Capture) -> None:
        self.capture = capture
        self._traces: dict[str, Trace1D] = {}
        self._edges: dict[str, tuple[Edge, ...]] = {}

    def trace(self, channel: Channel) -> Trace1D:
        """The channel's finite samples."""
        if channel.name not in self._traces:
            self._traces[channel.name] = prepare(self.capture.t_s, channel.values)
        return self._traces[channel.name]

    def edges(self, channel: Channel) -> tuple[Edge, ...]:
        """Its changes of state; none where it has none."""
        if channel.name not in self._edges:
            try:
                self._edges[channel.name] = find_edges(self.trace(channel))
            except NotEnoughDataError:
                self._edges[channel.name] = ()
        return self._edges[channel.name]


def further_outputs(capture: Capture, drive: str | None, output: str) -> tuple[Channel, ...]:
    """Return the columns beside drive and output that move between states, too, and repeat neither of the two.

    Parameters
    ----------
    capture : Capture
        The columns; those whose role is another than output are left out.
    drive, output : str
        What is measured already.
    """
    known = [channel for channel in capture.channels if channel.name in (drive, output)]
    found: list[Channel] = []
    ready = _Ready(capture)
    for channel in capture.channels:
        if channel in known or channel.role not in ("", "output") or rests_midway(channel.values):
            continue
        edges = ready.edges(channel)
        if not edges or is_sweep(ready.trace(channel), edges) or is_wave(ready.trace(channel), edges):
            continue
        if not any(_repeats(channel.values, other.values) for other in (*known, *found)):
            found.append(channel)
    return tuple(found)


def _repeats(values: FloatArray, others: FloatArray) -> bool:
    """Whether one column is another one but for scale and offset (a set-point, a model's copy)."""
    good = np.isfinite(values) & np.isfinite(others)
    return bool(np.count_nonzero(good) > 2 and abs(np.corrcoef(values[good], others[good])[0, 1]) > REPEATED)


def _together(ready: _Ready, source: Channel | None, answer: Channel) -> tuple[Trace1D | None, Trace1D]:
    """Both columns on the samples that both of them have."""
    if source is None:
        return None, ready.trace(answer)
    keep = np.isfinite(source.values) & np.isfinite(answer.values)
    if np.all(keep):
        return ready.trace(source), ready.trace(answer)
    t = ready.capture.t_s[keep]
    return prepare(t, source.values[keep]), prepare(t, answer.values[keep])


def _answer(ready: _Ready, varying: list[Channel], drive: Channel | None) -> Channel:
    for channel in ready.capture.channels:
        if channel.role == "output" and channel is not drive:
            return channel
    free = [channel for channel in varying if channel is not drive and channel.role not in ("drive", "other")]
    if len(free) == 1:
        return free[0]
    every = ready.capture.channels
    sensed = [channel for channel in every if channel is not drive and channel.role != "other"]
    candidates = free or sensed or list(every)
    slowness = _slowness(ready, candidates)
    return candidates[int(np.argmax(slowness))]


def _source(ready: _Ready, varying: list[Channel], answer: Channel) -> Channel | None:
    for channel in ready.capture.channels:
        if channel.role == "drive" and channel is not answer:
            return channel
    free = [channel for channel in varying if channel is not answer and channel.role == ""]
    if not free:
        return None
    *others, last = _slowness(ready, [*free, answer])
    fastest = int(np.argmin(others))
    return free[fastest] if others[fastest] <= DRIVES_QUICKER * last else None


def _slowness(ready: _Ready, channels: Sequence[Channel]) -> list[float]:
    """Duration of each channel's edges and their delay behind the nearest of the fastest one: what drives is less.

    A channel without an edge has the negative duration -1.
    """
    edges = [ready.edges(channel) for channel in channels]
    durations = [float(np.median([edge.duration_s for edge in own])) if own else -1.0 for own in edges]
    moving = [k for k, own in enumerate(edges) if own]
    if not moving:
        return durations
    leader = np.array([edge.t50_s for edge in edges[min(moving, key=lambda k: durations[k])]])
    for k in moving:
        instants = np.array([edge.t50_s for edge in edges[k]])
        late = instants[:, None] - leader
        durations[k] += float(np.median(late[np.arange(instants.size), np.argmin(np.abs(late), axis=1)]))
    return durations


def rests_midway(values: FloatArray) -> bool:
    """Whether a column jumps either way from the middle and falls back to it: what a capacitor lets through.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One column of a capture, any unit; NaN where a cell was empty.
    """
    good = values[:: max(1, values.size // QUANTILE_SAMPLES)]
    good = good[np.isfinite(good)]
    calm = (noise_rms(good) / max(MIDWAY_NOISE * float(np.ptp(good)), 1e-300)) ** 2 if good.size else 1.0
    good = block_average(good, int(min(max(calm, 1.0), max(good.size // 50, 1))))
    low, high = float(np.min(good, initial=np.inf)), float(np.max(good, initial=-np.inf))
    if not high > low:
        return False
    from_middle = np.abs((good - low) / (high - low) - 0.5)
    return bool(np.mean(from_middle < 0.2) > 0.5 and np.mean(from_middle > 0.4) < 0.15)


def is_sweep(trace: Trace1D, edges: tuple[Edge, ...]) -> bool:
    """Whether the drive is a slow ramp or triangle: it moves most of the time, at an even pace.

    Parameters
    ----------
    trace : Trace1D
        The drive as it was captured.
    edges : tuple of Edge
        Where the trace moves, in time order.
    """
    span = float(trace.t_s[-1] - trace.t_s[0])
    moving = sum(edge.duration_s for edge in edges) / 0.8
    if moving < SWEEPS * span:
        return False
    first = edges[0]
    inside = (trace.t_s > first.onset_s) & (trace.t_s < first.end_s)
    if np.sum(inside) < 16:
        return False
    way = np.linspace(0.0, 1.0, int(np.sum(inside)))
    straight = np.corrcoef(way, trace.values[inside])[0, 1]
    return bool(abs(straight) > STRAIGHT)


def denoised(trace: Trace1D, edges: tuple[Edge, ...]) -> FloatArray:
    """Return the drive with as much noise taken off as its shape allows, shape (n,).

    Parameters
    ----------
    trace : Trace1D
        The drive as it was captured.
    edges : tuple of Edge
        Where the trace moves, in time order.

    Notes
    -----
    Local quadratic smoothing keeps the moments up to the third, so that neither delays nor time constants move. The
    flats between the transitions and the transitions themselves are smoothed apart, each with the widest window whose
    residual is still no more than noise. A transition that is a plain ramp or exponential becomes that, one of fewer
    than 16 samples is left as it is, and the end of a flat that shows nothing but white noise becomes its mean.

    References
    ----------
    A. Savitzky, M. J. E. Golay, Anal. Chem. 36 (1964) 1627-1639.
    """
    u = trace.values.copy()
    cuts: list[tuple[int, int, int]] = []
    for k, edge in enumerate(edges):
        reach = 0.25 * edge.duration_s
        latest = edges[k + 1].onset_s - reach if k + 1 < len(edges) else float(trace.t_s[-1])
        over = edge.t50_s + 1.2 * edge.duration_s + reach
        bounds = edge.onset_s - reach, over, max(over, min(edge.t50_s + TAIL_DURATIONS * edge.duration_s, latest))
        begin, end, still = np.searchsorted(trace.t_s, bounds).tolist()
        cuts.append((begin, end, still))
    shortest = min((edge.duration_s for edge in edges if edge.duration_s > 0), default=0.0)
    last = 0
    for begin, end, still in cuts:
        u[last:begin] = _levelled(trace.values[last:begin], trace.noise)
        shaped = None
        if end - begin >= 16:
            shaped = shaped_transition(trace.t_s[begin:still], trace.values[begin:still], trace.noise, shortest)
        if shaped is not None:
            u[begin:still] = shaped
        elif end - begin >= 16:
            u[begin:end] = _smooth(trace.values[begin:end], trace.noise, (end - begin) // 8)
        last = still if shaped is not None else end
    u[last:] = _levelled(trace.values[last:], trace.noise)
    return u


def _levelled(values: FloatArray, noise: float) -> FloatArray:
    """Replace the longest end of a flat that holds nothing but white noise by its mean; smooth what comes before.

    A pole adds up the noise that the drive's flat still has at low frequencies, where no smoothing window takes it off.
    """
    for share in (0.0, 0.2, 0.4, 0.6, 0.8):
        start = int(share * values.size)
        rest = values[start:]
        if rest.size < 24:
            break
        means = block_average(rest, rest.size // 8)
        spread = noise / np.sqrt(rest.size // 8)
        if float(np.max(np.abs(means - np.mean(rest)))) < 3.0 * spread:
            head = _smooth(values[:start], noise, max_width=start // 2) if start else values[:0]
            return np.concatenate([head, np.full(rest.size, float(np.mean(rest)))])
    return _smooth(values, noise, max_width=values.size // 2)


def _smooth(values: FloatArray, noise: float, max_width: int) -> FloatArray:
    best = values
    for width in WIDTHS:
        if width > max_width or width >= values.size:
            break
        candidate = savitzky_golay(values, width, 2)
        rms = float(np.sqrt(np.mean((values - candidate) ** 2)))
        if rms > noise * (1 + 2.0 / np.sqrt(values.size)):
            break
        best = candidate
    return best


def judge_drive(channel: Channel, trace: Trace1D, edges: tuple[Edge, ...]) -> tuple[str, tuple[Caveat, ...]]:
    """Return what kind of drive it is and the remarks that follow.

    Parameters
    ----------
    channel : Channel
        The drive's column of the capture.
    trace : Trace1D
        The drive as it was captured.
    edges : tuple of Edge
        Where the trace moves, in time order.

    Returns
    -------
    kind : {"field", "coil_current", "command", "unknown"}
    caveats : tuple of Caveat

    Notes
    -----
    A square drive whose transition takes less than three samples is a command (generator, gate), not a field.
    """
    fastest = min(edge.duration_s for edge in edges)
    word = f"{channel.name} {channel.unit}"
    caveats = [*_asymmetric(edges), *_cut_off(trace)]
    if channel.unit in ("T", "mT", "G") or FIELD_WORDS.search(word):
        return "field", tuple(caveats)
    if fastest <= SHAPE_SAMPLES * trace.interval_s:
        return "command", (*caveats, COMMAND)
    if channel.unit in ("A", "mA") or CURRENT_WORDS.search(word):
        return "coil_current", (*caveats, COIL_CURRENT)
    return "unknown", tuple(caveats)


def _cut_off(trace: Trace1D) -> tuple[Caveat, ...]:
    """Whether the drive leaves the screen: one end of its range is held without the noise that the rest has."""
    for extreme in (np.max(trace.values), np.min(trace.values)):
        at = trace.values == extreme
        n_runs = 1 + int(np.count_nonzero(at[1:] & ~at[:-1]))
        rest = trace.values[~at]
        noisy = rest.size > 16 and noise_rms(rest) > CUT_NOISE * max(converter_step(trace.values), 1e-300)
        if noisy and np.mean(at) > CUT_SHARE and np.count_nonzero(at) > CUT_RUN * n_runs:
            return (CUT_OFF,)
    return ()


def _asymmetric(edges: tuple[Edge, ...]) -> tuple[Caveat, ...]:
    up = [_seen_s(edge) for edge in edges if edge.rising]
    down = [_seen_s(edge) for edge in edges if not edge.rising]
    ratio = float(np.median(down) / np.median(up)) if up and down else 1.0
    if 1 / ALIKE_DRIVES < ratio < ALIKE_DRIVES:
        return ()
    text = f"The drive falls in {ratio:.2g} times the time it rises in (a freewheel diode does that)."
    advice = "Compare the directions only after the drive is removed, or drive the coil from a symmetrical bridge."
    return (Caveat(code="drive_asymmetric", text=text, advice=advice),)


def _seen_s(edge: Edge) -> float:
    """The duration of an edge; of one too short to be read the longest that looks so."""
    return edge.duration_s if edge.is_resolved else edge.at_most_s
