"""Make the demo data anew: sessions through the real SDL path, captures, records, pictures.

Run it as ``python demo_logs/make_demo.py`` from the project's top level, on a machine that does nothing else: sessions
are recorded in real time. With the word ``records`` the records are made anew from the sessions and captures that are
there, and the pictures; with ``pictures`` the pictures alone. Everything in it is simulated and says so. The
scenario is invented: a community repair bench refurbishes loaner pads for a youth drone-simulator club.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from feelcheck import pipeline
from feelcheck.model import Capture
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

HERE = Path("demo_logs")
PROFILES = Path("profiles")
STATES = {"alder": "as_found", "birch": "as_found", "cedar": "c3_lifted", "elm": "as_found"}
EXTRA_MOUNTINGS = (2, 3, 4, 5, 6)
SENSOR = Sensor(sensitivity=1.2, offset_v=0.603)
SCOPE = Scope(bits=10, noise_v=1.5e-3)


def bench_worlds() -> dict[str, BenchWorld]:
    """The boards behind the four specimens, in the state that is recorded."""
    alder = Parts(r_series_ohm=3300.0, c_behind_f=0.88e-6)
    birch = Parts(r_source_ohm=4800.0, c_pin_f=1.87e-6, sink="resistor", sink_ohm=7490.0)
    cedar = Parts(r_series_ohm=4700.0, c_behind_f=52e-9)
    elm = Parts(r_series_ohm=1500.0, c_behind_f=0.94e-6)
    stepping = replace(SENSOR, sample_interval_s=1 / 1500)
    slow = Coil(n_edges=4, half_period_s=100e-3)
    long = replace(SCOPE, duration_s=420e-3, interval_s=40e-6)
    return {
        "alder": BenchWorld(coil=slow, sensor=SENSOR, parts=alder, scope=long),
        "birch": BenchWorld(coil=slow, sensor=SENSOR, parts=birch, scope=long),
        "cedar": BenchWorld(coil=slow, sensor=SENSOR, parts=cedar, scope=long),
        "elm": BenchWorld(coil=slow, sensor=stepping, parts=elm, scope=long),
    }


def write_plain(capture: Capture, path: Path) -> None:
    """Comma, point, units in the names."""
    drive, output = capture.channels
    rows = (f"{t:.6f},{d:.5f},{o:.5f}" for t, d, o in zip(capture.t_s, drive.values, output.values, strict=True))
    path.write_text("\n".join(["time_s,coil_A,sensor_V", *rows]) + "\n", encoding="utf-8")


def write_decimal_comma(capture: Capture, path: Path) -> None:
    """Keyed preamble, semicolons, decimal commas, a units row."""
    drive, output = capture.channels
    head = ["Sample interval;40 us", "Note;loaner pads; field step", "", "Time;Coil;Sensor", "(ms);(A);(mV)"]
    rows = (
        f"{1e3 * t:.3f};{d:.5f};{1e3 * o:.2f}".replace(".", ",")
        for t, d, o in zip(capture.t_s, drive.values, output.values, strict=True)
    )
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")


def write_without_time(capture: Capture, path: Path) -> None:
    """No time column: start and increment in comments."""
    drive, output = capture.channels
    head = [f"# start: {capture.t_s[0]:.6f} s", f"# increment: {capture.interval_s:.6g} s", "coil [A],sensor [V]"]
    rows = (f"{d:.5f},{o:.5f}" for d, o in zip(drive.values, output.values, strict=True))
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")


def write_tabs(capture: Capture, path: Path) -> None:
    """Tabs, an index column before the time."""
    drive, output = capture.channels
    rows = (
        f"{k}\t{t:.6f}\t{d:.5f}\t{o:.5f}"
        for k, (t, d, o) in enumerate(zip(capture.t_s, drive.values, output.values, strict=True))
    )
    path.write_text("\n".join(["sample\ttime (s)\tcoil (A)\tsensor (V)", *rows]) + "\n", encoding="utf-8")


WRITERS = {"alder": write_plain, "birch": write_decimal_comma, "cedar": write_without_time, "elm": write_tabs}
SENSOR_NOTES = {"birch": "source_ohm = 4800.0\nsink_ohm = 7490.0\n"}
PARTS_FOUND = {
    "alder": (("r2", "3.3k", "series_resistor"), ("c3", "1u", "capacitor")),
    "birch": (("c3", "2.2u", "pin_capacitor"),),
    "cedar": (("r2", "4.7k", "series_resistor"), ("c3", "1u", "capacitor"), ("c4", "47n", "capacitor")),
    "elm": (("r2", "1.5k", "series_resistor"), ("c3", "1u", "capacitor")),
}


def record_specimen(name: str) -> None:
    """One session through SDL's queue, and one capture."""
    pipeline.log(
        specimen=pipeline.RecordingAsked(
            name, state=STATES[name], source="virtual", script="quick", simulate=name, out=HERE, seed=11
        )
    )
    WRITERS[name](simulate_capture(bench_worlds()[name], np.random.default_rng(len(name))), capture_of(name))


def capture_of(name: str) -> Path:
    """Where a specimen's capture is."""
    return HERE / f"{name}_field_step.{'txt' if name == 'elm' else 'csv'}"


def make_record(name: str, scratch: Path) -> None:
    """The record of one specimen: its session and capture, five more mountings that only the record remembers."""
    state = STATES[name]
    record = pipeline.new_profile(name, PROFILES, pad=f"loaner {len(name)}", stick="left", kind="hall")
    for position, value, role in PARTS_FOUND[name]:
        part = pipeline.part_found(
            position,
            value,
            role=role,
            axis="left_x",
            tolerance_percent=1.0 if role == "series_resistor" else 10.0,
            size_code="0402",
            dielectric="" if role == "series_resistor" else "X5R",
        )
        pipeline.note_part(record, part)
    annotate(record, name)
    if state != "as_found":
        pipeline.note_state(record, pipeline.state_step(state, ["c3=lifted"], note="capacitor c3 lifted off the board"))
    pipeline.add_capture(record, [capture_of(name)], axis="left_x", state=state, polarity=1)
    pipeline.add_session(record, HERE / f"{name}_{state}", state=state, mounting=1, operator="mo")
    for mounting in EXTRA_MOUNTINGS:
        more = pipeline.log(
            pipeline.RecordingAsked(
                specimen=name,
                state=state,
                source="synthetic",
                script="quick",
                simulate=name,
                out=scratch,
                seed=100 + mounting,
            )
        )
        pipeline.add_session(record, more.folder, state=state, mounting=mounting, operator="mo")
    record.write_text(record.read_text(encoding="utf-8").replace(f"{scratch}/", ""), encoding="utf-8")


def annotate(record: Path, name: str) -> None:
    """Note by hand, as anyone would in an editor, what no command writes: supply and output stage."""
    text = record.read_text(encoding="utf-8")
    notes = SENSOR_NOTES.get(name, "")
    before, parts = text.split("[[parts]]", 1)
    record.write_text(f"{before}[sensor]\nsupply_v = 1.8\n{notes}\n[[parts]]{parts}", encoding="utf-8")


def make_data() -> None:
    """Record every specimen anew, in place of what was there."""
    for old in (*HERE.glob("*_as_found"), *HERE.glob("*_lifted")):
        shutil.rmtree(old)
    for name in STATES:
        print(f"recording {name}", file=sys.stderr)
        record_specimen(name)


def make_records() -> None:
    """Measure every session and capture anew, into new records."""
    for record in PROFILES.glob("*.toml"):
        record.unlink()
    with tempfile.TemporaryDirectory() as scratch:
        for name in STATES:
            print(f"measuring {name}", file=sys.stderr)
            make_record(name, Path(scratch))


def make_pictures() -> None:
    """Draw the pictures of README.md from the data; each takes the place of the older one once it is drawn."""
    pictures = HERE / "pictures"
    pictures.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        subprocess.run(
            [sys.executable, "-m", "feelcheck", "demo", "--out", scratch], check=True, stdout=subprocess.DEVNULL
        )
        for picture in sorted(Path(scratch).glob("*.svg")):
            shutil.copy(picture, pictures / picture.name)
    subprocess.run([sys.executable, str(HERE / "window_picture.py")], check=True, stdout=subprocess.DEVNULL)
    make_last_page(pictures / "last_page.png")


def make_last_page(target: Path) -> None:
    """Let the simulated person go through the quick script in the real window, and keep its last page; needs Xvfb."""
    with tempfile.TemporaryDirectory() as scratch:
        shown = Path(scratch) / "pictures"
        environment = {**os.environ, "FEELCHECK_PICTURES": str(shown)}
        screen = ["xvfb-run", "-a", "-s", "-screen 0 1280x800x24"]
        command = [
            *screen,
            sys.executable,
            "-m",
            "feelcheck",
            "log",
            "birch",
            "--source",
            "virtual",
            "--script",
            "quick",
        ]
        subprocess.run(command, check=True, cwd=scratch, env=environment, stdout=subprocess.DEVNULL)
        with Image.open(shown / "finished_none_done_told.png") as page:
            page.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(target, optimize=True)


if __name__ == "__main__":
    asked = set(sys.argv[1:])
    if not asked & {"records", "pictures"}:
        make_data()
    if "pictures" not in asked:
        make_records()
    make_pictures()
