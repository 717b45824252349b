"""The truth about a simulated log, under names that carry their unit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.firmware import FULL
from feelcheck.sources.synthetic.motion import StickMotion
from feelcheck.sources.synthetic.scene import World

__all__ = ["step_counts", "world_truth"]

SETTLE_S = 0.5
"""Left out at the start of each rest, so that the electronics have settled too."""

Truth = dict[str, float | str]


def world_truth(world: World, motions: list[StickMotion], slots_s: FloatArray, codes: NDArray[np.int64]) -> Truth:
    """Return everything an analysis might be asked about, as a flat table.

    Parameters
    ----------
    world : World
        The simulated world.
    motions : list of StickMotion
        Motion of each stick.
    slots_s : ndarray, shape (n,)
        Instants of the reports, s.
    codes : ndarray, shape (n, n_axes)
        What was sent.

    Notes
    -----
    ``rising`` and ``falling`` follow the sent codes: an axis that the firmware turns round swaps the two of the volts.
    ``smoothing_delay_s`` is poles plus moving average, without dead time, sampling or refresh; a speed-adaptive
    filter has no single time constant and is listed by its two ends instead. ``release.ring_hz`` is the damped
    frequency, the one that can be seen.
    """
    truth: Truth = {
        "world": world.name,
        "report_interval_s": world.reports.true_interval_s,
        "lost_report_fraction": world.reports.loss_fraction,
        "rim_button_delay_s": world.rim_button_delay_s,
        "play_fs": world.gimbal.play_fs if world.gimbal.tied else 0.0,
        "release.natural_hz": world.gimbal.natural_hz,
        "release.ring_hz": world.gimbal.natural_hz * max(0.0, 1.0 - world.gimbal.damping**2) ** 0.5,
        "release.damping": world.gimbal.damping,
        "release.friction_fs": world.gimbal.friction_fs,
    }
    for column, name in enumerate(world.axis_names):
        motion = motions[world.sticks.index(name.rpartition("_")[0])]
        truth |= {f"{name}.{key}": value for key, value in _axis_truth(world, name).items()}
        truth[f"{name}.rest_noise_counts"] = _rest_noise(motion, slots_s, codes[:, column])
    for stick, motion in zip(world.sticks, motions, strict=True):
        truth |= _motion_truth(stick, motion)
    return truth


def _axis_truth(world: World, name: str) -> Truth:
    turned = name in world.firmware.inverted_axes
    sensor, converter, adaptive = world.sensor_of(name), world.converter_of(name), world.firmware.adaptive
    truth: Truth = {
        "polarity": -1.0 if turned != sensor.inverted else 1.0,
        "step_counts": step_counts(world, name),
        "dead_zone_fraction": world.firmware.dead_zone_fraction,
        "update_interval_s": max(sensor.refresh_s, world.conversion_interval_s),
        "bits": float(converter.bits),
        "dead_time_s": _dead_time_s(world, name),
    }
    for direction, pick in (("rising", int(turned)), ("falling", 1 - int(turned))):
        truth |= {f"{direction}.{key}": value for key, value in _direction_truth(world, name, pick).items()}
    if adaptive is not None:
        truth |= {"adaptive.slow_s": adaptive.slow_s, "adaptive.fast_s": adaptive.fast_s}
    return truth


def _dead_time_s(world: World, name: str) -> float:
    """Return the mean age of what a report says about one axis, smoothing left out, s."""
    converter, waits = world.converter_of(name), len(world.axis_names) - 1 - world.axis_names.index(name)
    held_s = 0.5 * (converter.interval_s + world.sensor_of(name).refresh_s)
    return world.network_of(name).dead_time_s + converter.latency_s + waits * converter.skew_s + held_s


def _direction_truth(world: World, name: str, pick: int) -> Truth:
    network, firmware = world.network_of(name), world.firmware
    poles_s = [pole[pick] for pole in network.poles_s]
    if firmware.recursive_s > 0.0:
        poles_s.append(firmware.recursive_s)
    average_s = 0.5 * (firmware.average_n - 1) * world.conversion_interval_s
    truth: Truth = {
        "tau_s": max(poles_s, default=0.0),
        "poles_s": " ".join(f"{tau_s:.9g}" for tau_s in sorted(poles_s, reverse=True)),
        "smoothing_delay_s": sum(poles_s) + average_s,
        "average_delay_s": average_s,
        "dead_time_s": network.dead_time_s,
    }
    return truth


def step_counts(world: World, name: str) -> float:
    """Return the spacing of the levels that the codes of one axis can take.

    A moving average divides the converter's step by its length; a filter with a longer memory leaves only the
    rounding of the output itself.

    Parameters
    ----------
    world : World
        The simulated pad and person.
    name : str
        Name of the axis.
    """
    converter, firmware = world.converter_of(name), world.firmware
    reach = converter.codes_per_throw if firmware.output == "native" else float(FULL)
    gain = firmware.edge_gain / (1.0 - firmware.dead_zone_fraction)
    step = reach * gain / converter.codes_per_throw / firmware.average_n
    if firmware.output == "widened":
        return float(firmware.widened_step)
    blurred = firmware.recursive_s > 0.0 or firmware.adaptive is not None
    blurred = blurred or (firmware.dead_zone_fraction > 0.0 and firmware.dead_zone_shape == "radial")
    return 1.0 if blurred else max(1.0, step)


def _rest_noise(motion: StickMotion, slots_s: FloatArray, codes: NDArray[np.int64]) -> float:
    """Return the rms of the codes about their mean in each true rest, pooled."""
    squares, n_free = 0.0, 0
    for start_s, end_s in motion.rests:
        first, last = np.searchsorted(slots_s, (start_s + SETTLE_S, end_s))
        if last - first > 10:
            squares += float(np.var(codes[first:last])) * int(last - first)
            n_free += int(last - first) - 1
    return (squares / n_free) ** 0.5 if n_free else 0.0


def _motion_truth(stick: str, motion: StickMotion) -> Truth:
    truth: Truth = {f"{stick}.n_contacts": float(len(motion.contacts))}
    for k, contact in enumerate(motion.contacts):
        truth[f"{stick}.contact_{k}.t_s"] = contact.t_s
        truth[f"{stick}.contact_{k}.direction_deg"] = contact.direction_deg
        truth[f"{stick}.contact_{k}.speed_fs_per_s"] = contact.speed
    for k, t_s in enumerate(motion.release_s):
        truth[f"{stick}.release_{k}.t_s"] = t_s
    return truth
