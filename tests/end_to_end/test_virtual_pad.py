"""The virtual pad on SDL's real joystick path: every value, inside its bracket, at any report rate."""

from __future__ import annotations

import gc
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib import metadata
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest

from feelcheck.formats.session import READER
from feelcheck.model import Action, Script, SourceEvent, Step
from feelcheck.recorder import RecordingAsked, record_session
from feelcheck.recorder.running import which_pad
from feelcheck.sources.gamepad.pad import GamepadSource
from feelcheck.sources.gamepad.poll import brackets
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import EventDrain
from feelcheck.sources.gamepad.virtual import Change, VirtualPad
from feelcheck.sources.synthetic import named_world, simulate_device

FIGURES = Path(__file__).parent / "recorder_figures.py"
SCRIPT = Script(
    name="short",
    title="Two flicks",
    steps=(
        Step(action=Action.REST, duration_s=0.4),
        Step(action=Action.FLICK, duration_s=0.7, direction_deg=45.0),
        Step(action=Action.RELEASE, duration_s=0.5),
    ),
)


@pytest.fixture(autouse=True)
def _headless(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    entry = metadata.EntryPoint("virtual", "feelcheck.sources.kinds:VIRTUAL", "feelcheck.sources")
    real = metadata.entry_points
    monkeypatch.setattr(
        metadata, "entry_points", lambda group: [entry] if group == "feelcheck.sources" else real(group=group)
    )
    yield
    if pygame.display.get_init():
        pygame.event.clear()  # events of pads that are gone, which whoever asks next could not read
    gc.unfreeze()
    gc.enable()


class Ramp:
    """A device with a queue: every period one new pair of codes."""

    def __init__(self, rate_hz: float, n: int) -> None:
        self.due_ns = np.round(np.arange(1, n + 1) * 1e9 / rate_hz).astype(np.int64).tolist()
        self.start_ns, self.k = 0, 0

    def due(self, now_ns: int) -> Iterator[list[Change]]:
        while self.k < len(self.due_ns) and self.start_ns + self.due_ns[self.k] <= now_ns:
            yield [("axis", 0, (self.k * 7919) % 65535 - 32767), ("axis", 1, -((self.k * 31) % 32768))]
            self.k += 1


@pytest.mark.parametrize("low_power", [False, True])
@pytest.mark.parametrize("rate_hz", [250.0, 1000.0, 8000.0])
def test_no_value_of_a_queued_device_is_lost_and_its_instant_is_inside_the_bracket(
    rate_hz: float, low_power: bool
) -> None:
    ramp = Ramp(rate_hz, round(0.6 * rate_hz))
    pad = VirtualPad(2, 0, ramp.due)
    rows: list[Any] = []
    try:
        pad.start()
        translator = PadRows(pad.instance, ["x", "y"], [], pad.values)
        ramp.start_ns = time.perf_counter_ns()
        for lo, hi, found in brackets(EventDrain(pad.library).poll, low_power=low_power, since_ns=ramp.start_ns):
            rows += translator.translate(found, lo, hi).rows
            if ramp.k == len(ramp.due_ns):
                break
    finally:
        pad.close()
    x = [row for row in rows if row[3] == "x"]
    # Every code is there, raw: SDL's 16-bit range with both its ends' neighbourhoods.
    assert [row[4] for row in x] == [(k * 7919) % 65535 - 32767 for k in range(len(ramp.due_ns))]
    assert [row[4] for row in rows if row[3] == "y"] == [-((k * 31) % 32768) for k in range(1, len(ramp.due_ns))]
    true_ns = [ramp.start_ns + t for t in ramp.due_ns]
    assert all(row[0] < t <= row[1] for row, t in zip(x, true_ns, strict=True))


@pytest.mark.parametrize("n_others", [0, 1])
def test_a_full_queue_of_sdl_is_told_as_a_gap(n_others: int) -> None:
    # SDL 2 keeps 65535 events; more at once and the newest are dropped, which the rows must say.
    pygame.display.init()
    pygame.event.clear()
    for _ in range(n_others):
        pygame.event.post(pygame.event.Event(pygame.USEREVENT))  # what another part of the program left
    ramp = Ramp(1e6, 40_000)
    pad = VirtualPad(2, 0, ramp.due)
    try:
        pad.start()
        told = PadRows(pad.instance, ["x", "y"], [], pad.values).translate(EventDrain(pad.library).poll(), 0, 1)
    finally:
        pad.close()
        pygame.event.clear()
    assert told.rows[-1][2:4] == ("gap", "event queue full")
    # SDL itself leaves a few events of other kinds (displays, batteries), by machine.
    assert 65_500 < told.rows[-1][4] <= 65_535 - n_others
    assert [row[4] for row in told.rows[:-1] if row[3] == "x"][:3] == [-32767, -24848, -16929]


def test_detaching_drops_what_sdl_makes_up() -> None:
    pad = VirtualPad(2, 1, lambda now_ns: [[("axis", 0, 20_000), ("button", 0, 1)]])
    pad.start()
    drain, rows = EventDrain(pad.library), PadRows(pad.instance, ["x", "y"], ["rim"], pad.values)
    first = rows.translate(drain.poll(), 0, 1)
    pad.close()
    last = rows.translate(drain.poll(), 1, 2)
    assert {row[2:] for row in first.rows} == {("axis", "x", 20_000), ("button", "rim", 1)}
    assert last.rows == [(1, 2, "unplug", "pad", 0)]
    pad.close()


def _until(events: Iterator[list[SourceEvent]], kind: str) -> list[SourceEvent]:
    """Return the batch that holds a row of a kind; empty polls in between are nothing."""
    for batch in islice(events, 200_000):
        if any(row[2] == kind for row in batch):
            return batch
    raise AssertionError(f"no row of kind {kind}")


def test_a_pad_is_opened_described_lost_and_found_again() -> None:
    codes = iter([1_000, -32_768, 32_767, 1_000])
    moves: list[list[list[Change]]] = []

    def due(now_ns: int) -> list[list[Change]]:
        return moves.pop() if moves else []

    pad, source = VirtualPad(4, 1, due), GamepadSource("virtual")
    try:
        source.open()
        described = source.describe()
        events = source.events()
        first = next(events)
        pad.start()
        moves.append([[("axis", 1, next(codes)), ("button", 0, 1)], [("axis", 1, next(codes))]])
        moved = _until(events, "axis")
        pad.close()
        lost = _until(events, "unplug")
        pad = VirtualPad(4, 1, due)
        found = _until(events, "plug")
        pad.start()
        moves.append([[("axis", 0, next(codes))]])
        again = _until(events, "axis")
    finally:
        source.close()
        pad.close()
    names = [axis["name"] for axis in described["axes"]]
    assert (described["device"], described["backend"], described["simulated"]) == ("virtual pad", "virtual", False)
    assert described["hints"]["SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS"] == "1"
    assert len(names) == 4
    assert [row[2:] for row in first] == [("axis", name, 0) for name in names]
    assert [row[4] for row in moved if row[3] == names[1]] == [1_000, -32_768]
    assert [row[4] for row in moved if row[2] == "button"] == [1]
    assert [row[2] for row in lost] == ["unplug"]
    assert [row[2:] for row in found] == [("plug", "pad", 0), *(("axis", name, 0) for name in names)]
    assert [row[3:] for row in again] == [(names[0], 32_767)]


def test_of_two_pads_the_one_that_is_not_recorded_is_told() -> None:
    pads = [VirtualPad(2, 1, lambda now_ns: []) for _ in range(2)]
    source = GamepadSource("1")
    try:
        source.open()
        described = source.describe()
    finally:
        source.close()
        for pad in pads:
            pad.close()
    assert described["other_pads"] == "virtual pad"
    assert which_pad(described).startswith("Pad: virtual pad. Also plugged in: virtual pad; choose with --device")


def test_a_session_of_the_virtual_source_is_the_simulated_device_bit_by_bit(tmp_path: Path) -> None:
    folder = record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="virtual", out=tmp_path, seed=5))
    recording = READER.read(folder)
    run = simulate_device(named_world("alder"), SCRIPT, np.random.default_rng(5))
    cue_s = np.array([cue.t_s for cue in recording.cues])
    start_s = cue_s[0]
    assert recording.provenance.complete
    assert recording.provenance.simulated
    assert recording.stream("left_x").time.clock == "host"
    assert [cue.text for cue in recording.cues] == [cue.text for cue in run.cues]
    assert cue_s - start_s == pytest.approx([cue.t_s for cue in run.cues], abs=2e-9)
    assert recording.truth == pytest.approx(dict(run.truth))
    for k, name in enumerate(run.axis_names):
        codes = run.codes[:, k]
        changed = np.append(codes[0] != 0, np.diff(codes) != 0)
        stream = recording.stream(name)
        n = stream.codes.size
        # The last reports may come after the recording's end.
        assert codes[changed][:n].tolist() == stream.codes.tolist()
        assert n >= changed.sum() - 60
        sent_s = run.sent_s[changed][:n] + start_s
        # Two nanoseconds for the rounding of both.
        assert np.all(stream.time.t_lo_s < sent_s + 2e-9)
        assert np.all(sent_s <= stream.time.t_hi_s + 2e-9)


def _figures(*arguments: str) -> list[dict[str, Any]]:
    command = [sys.executable, str(FIGURES), "--json", "--repeats", "1", *arguments]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=300)
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_a_polled_device_in_its_own_process_is_inside_its_brackets_on_any_machine() -> None:
    (figures,) = _figures("--devices", "polled", "--rates", "1000", "--loops", "busy", "--seconds", "0.6")
    assert figures["n_set"] == 600
    assert figures["inside_fraction"] == 1.0
    assert figures["n_unexplained"] == 0


@pytest.mark.realtime
@pytest.mark.parametrize("loop", ["busy", "low_power"])
def test_on_a_quiet_machine_nothing_is_lost_that_stood_half_a_period(loop: str) -> None:
    repeats = _figures("--devices", "polled", "--rates", "1000", "--loops", loop, "--seconds", "4", "--repeats", "3")
    quiet = [one for one in repeats if not one["others_share"] > 0.1]
    if not quiet:
        pytest.skip("other programs take more than a tenth of this machine")
    figures = min(quiet, key=lambda one: (one["n_lost_clean"], one["width_us"][2]))
    assert figures["n_lost_clean"] == 0
    assert figures["inside_fraction"] == 1.0
    # 0.1 ms while busy and 1.2 ms in the low-power loop is what a recording should keep.
    assert figures["width_us"][2] <= (100.0 if loop == "busy" else 1200.0)
