"""A whole simulated world: from the thumb to the log, with the truth beside it."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import SourceError
from feelcheck.model import (
    ButtonEvent,
    FloatArray,
    Provenance,
    Recording,
    Script,
    StickAxes,
    Stream,
    TimeBase,
    script_cues,
)
from feelcheck.sources.synthetic.converter import convert, look_at
from feelcheck.sources.synthetic.electronics import smooth
from feelcheck.sources.synthetic.firmware import axis_scale, encode, filter_axis, shape_stick
from feelcheck.sources.synthetic.gimbal import backlash
from feelcheck.sources.synthetic.host import Seen, watch
from feelcheck.sources.synthetic.motion import StickMotion, stick_motion
from feelcheck.sources.synthetic.reports import arrivals, report_instants, surviving
from feelcheck.sources.synthetic.scene import AxisParts, DeviceRun, World
from feelcheck.sources.synthetic.sensor import sense
from feelcheck.sources.synthetic.thumb import plan_moves
from feelcheck.sources.synthetic.truth import world_truth

__all__ = ["PRESS_S", "AxisParts", "DeviceRun", "World", "simulate_device", "simulate_recording", "slot_codes"]

SHORTEST_S = 0.1
PRESS_S = 0.12
"""How long a pressed button stays down."""

Button = tuple[float, str, int]


def simulate_device(world: World, script: Script, rng: np.random.Generator) -> DeviceRun:
    """Return what a pad sends while a person follows the script.

    Parameters
    ----------
    world : World
        The simulated pad and person.
    script : Script
        What is asked.
    rng : Generator
        Source of all draws.

    Notes
    -----
    Mechanics and analogue electronics run on a fine time grid; conversions and reports pick their instants from it.

    Raises
    ------
    SourceError
        If the script takes no time.
    """
    if script.duration_s < SHORTEST_S:
        raise SourceError(
            "A simulated world needs a script that takes some time.",
            {"script": script.name, "duration_s": script.duration_s, "shortest_s": SHORTEST_S},
            "Give the script steps with a duration.",
        )
    slots_s = report_instants(world.reports, script.duration_s, rng)
    motions, buttons = _move_sticks(world, script, rng)
    codes = slot_codes(world, motions, slots_s, rng)
    pressed = np.searchsorted(slots_s, [t_s for t_s, _, _ in buttons])
    sent = surviving(world.reports, codes, rng, pressed[pressed < slots_s.size])
    t_s = slots_s[sent]
    position = [look_at(row, t_s, stepped=False) for motion in motions for row in motion.xy]
    return DeviceRun(
        axis_names=world.axis_names,
        t_s=t_s,
        sent_s=arrivals(world.reports, t_s, rng),
        codes=codes[sent],
        motion=np.stack(position, axis=1),
        scales=tuple(axis_scale(world.firmware, world.converter_of(name)) for name in world.axis_names),
        buttons=buttons,
        cues=script_cues(script),
        truth=MappingProxyType(world_truth(world, motions, slots_s, codes)),
    )


def slot_codes(
    world: World, motions: list[StickMotion], slots_s: FloatArray, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Return what each report slot would say, shape (n, n_axes).

    Parameters
    ----------
    world : World
        Sensors, networks, converters and firmware.
    motions : list of StickMotion
        Where each stick was, from time 0 on.
    slots_s : ndarray, shape (n,), s
        Instants of the reports.
    rng : Generator
        Draws noise and phases.
    """
    converted_s, latest = _conversions(world, slots_s, rng)
    columns: list[NDArray[np.int64]] = []
    for stick, motion in zip(world.sticks, motions, strict=True):
        names = (f"{stick}_x", f"{stick}_y")
        x, y = (_axis_throws(world, name, motion, converted_s, rng) for name in names)
        for name, throws in zip(names, shape_stick(world.firmware, x, y), strict=True):
            columns.append(encode(world.firmware, world.converter_of(name), name, throws)[latest])
    return np.stack(columns, axis=1)


def _move_sticks(
    world: World, script: Script, rng: np.random.Generator
) -> tuple[list[StickMotion], tuple[Button, ...]]:
    motions: list[StickMotion] = []
    buttons: list[Button] = []
    for stick in world.sticks:
        if world.gimbal.tied and motions:
            first = motions[0]
            xy = np.stack([backlash(row, world.gimbal.play_fs) for row in first.xy])
            motions.append(StickMotion(xy=xy, contacts=first.contacts, release_s=first.release_s, rests=first.rests))
            continue
        moves = plan_moves(world.thumb, script, stick, rng)
        motions.append(stick_motion(world.thumb, world.gimbal, moves, script.duration_s, rng))
        for move in moves:
            if move.kind == "press":
                buttons += [(move.start_s, f"{stick}_press", 1), (move.start_s + PRESS_S, f"{stick}_press", 0)]
    if world.rim_button:
        buttons += _rim_presses(world, motions[0])
    return motions, tuple(sorted(buttons))


def _rim_presses(world: World, motion: StickMotion) -> list[Button]:
    closed = [(contact.t_s + world.rim_button_delay_s, world.rim_button, 1) for contact in motion.contacts]
    opened = [(t_s + world.rim_button_delay_s, world.rim_button, 0) for t_s in motion.release_s]
    return closed + opened


def _conversions(world: World, slots_s: FloatArray, rng: np.random.Generator) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return the instants of the conversions, and for each report slot the latest one it can carry."""
    ready_s = slots_s - world.converter.latency_s
    interval_s = world.converter.interval_s
    if interval_s <= 0.0:
        return ready_s, np.arange(slots_s.size, dtype=np.intp)
    first_s = -rng.uniform(1.0, 2.0) * interval_s
    converted_s = first_s + interval_s * np.arange(math.ceil((slots_s[-1] - first_s) / interval_s) + 1)
    return converted_s, np.searchsorted(converted_s, ready_s, side="right").astype(np.intp) - 1


def _axis_throws(
    world: World, name: str, motion: StickMotion, converted_s: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Return one axis from its deflection to the filtered throws in the firmware, one value a conversion."""
    x, y = motion.xy
    along, across = (x, y) if name.endswith("_x") else (y, -x)
    sensor, network, converter = world.sensor_of(name), world.network_of(name), world.converter_of(name)
    volts = smooth(network, sense(sensor, along, across, rng))
    waits = len(world.axis_names) - 1 - world.axis_names.index(name)
    at_s = converted_s - waits * converter.skew_s - network.dead_time_s
    held = sensor.refresh_s > 0.0 and not network.poles_s
    codes = convert(converter, look_at(volts, at_s, stepped=held), rng)
    return filter_axis(world.firmware, converter, codes, world.conversion_interval_s)


def simulate_recording(world: World, script: Script, rng: np.random.Generator) -> Recording:
    """Return a simulated log of a person following the script: the device's run seen through the host.

    Parameters
    ----------
    world : World
        The world.
    script : Script
        What the person is asked.
    rng : numpy.random.Generator
        Source of everything random.

    Notes
    -----
    Style ``"events"`` gives each axis its own bracketed stream of changes, as a recorder of input events writes it;
    style ``"table"`` gives one row and one stamp for each report, as an ordinary logger writes it.
    """
    run = simulate_device(world, script, rng)
    seen = watch(world.host, run.sent_s, rng)
    streams = _table_streams(world, run, seen) if world.host.style == "table" else _event_streams(run, seen)
    return Recording(
        streams=streams,
        sticks=tuple(StickAxes(stick=stick, x=f"{stick}_x", y=f"{stick}_y") for stick in world.sticks),
        buttons=_seen_buttons(run, seen),
        cues=run.cues,
        provenance=Provenance(
            format="synthetic",
            specimen=world.name,
            simulated=True,
            facts=MappingProxyType({"script": script.name, "source": "synthetic"}),
        ),
        truth=run.truth,
    )


def _event_streams(run: DeviceRun, seen: Seen) -> tuple[Stream, ...]:
    streams = []
    for column, name in enumerate(run.axis_names):
        codes = run.codes[seen.which, column]
        changed = np.append(True, np.diff(codes) != 0) if codes.size else np.empty(0, dtype=bool)
        time = TimeBase(t_lo_s=seen.t_lo_s[changed], t_hi_s=seen.t_hi_s[changed], clock="model")
        streams.append(
            Stream(name=name, time=time, codes=codes[changed], scale=run.scales[column], reports="on_change")
        )
    return tuple(streams)


def _table_streams(world: World, run: DeviceRun, seen: Seen) -> tuple[Stream, ...]:
    time = TimeBase.from_instants(seen.t_hi_s, clock="log")
    reports: Literal["every", "on_change"] = "on_change" if world.reports.on_change else "every"
    return tuple(
        Stream(name=name, time=time, codes=run.codes[seen.which, column], scale=run.scales[column], reports=reports)
        for column, name in enumerate(run.axis_names)
    )


def _seen_buttons(run: DeviceRun, seen: Seen) -> tuple[ButtonEvent, ...]:
    """Return button changes in the brackets of the first report that was seen after them."""
    carried = np.searchsorted(run.t_s[seen.which], [t_s for t_s, _, _ in run.buttons])
    return tuple(
        ButtonEvent(t_lo_s=float(seen.t_lo_s[row]), t_hi_s=float(seen.t_hi_s[row]), name=name, value=value)
        for row, (_, name, value) in zip(carried.tolist(), run.buttons, strict=True)
        if row < seen.which.size
    )
