"""Small sound files of every kind that the tool reads: what the mutations begin from."""

from __future__ import annotations

import json
import math
import tempfile
from functools import cache
from importlib import resources
from pathlib import Path

import feelcheck
from feelcheck import pipeline

__all__ = ["seeds"]

ROOT = Path(feelcheck.__file__).parent.parent
ROWS = 250


def _head(path: Path, n_lines: int = ROWS) -> bytes:
    return b"".join(path.read_bytes().splitlines(keepends=True)[:n_lines])


def _log(separator: str, decimal: str, unit: str) -> bytes:
    factor = {"s": 1.0, "ms": 1e3, "us": 1e6}[unit]
    rows = [separator.join([f"t_{unit}", "left_x", "left_y", "button"])]
    for k in range(150):
        t_s = k / 250
        value = f"{0.8 * math.tanh(9 * math.sin(5 * t_s)):.4f}".replace(".", decimal)
        rows.append(
            separator.join([f"{t_s * factor:.4f}".replace(".", decimal), value, str(k % 7 - 3), str(k // 45 % 2)])
        )
    return "\n".join(rows).encode()


def _capture(separator: str = ",") -> bytes:
    rows = ["Model,bench scope", "Sample Interval,4e-4,s", separator.join(["Time (s)", "Coil (A)", "Out (V)"])]
    for k in range(300):
        t_s, on = k * 4e-4, (k // 100) % 2
        since_s = (k % 100) * 4e-4
        v = (
            0.2 + 1.4 * (1 - math.exp(-since_s / 4.7e-3))
            if on
            else 0.2 + 1.4 * math.exp(-since_s / 4.7e-3) * (k >= 100)
        )
        rows.append(separator.join([f"{t_s:.6f}", f"{on:.3f}", f"{v + 0.001 * ((k * 7919) % 13 - 6):.5f}"]))
    return "\n".join(rows).encode()


READINGS = b'time_unit = "ms"\ntime_error = 0.1\n[[edge]]\ndirection = "rising"\nt10 = 0.5\nt50 = 3.4\nt90 = 10.8\n'
READING_ROWS = b"direction,t10_ms,t50_ms,t90_ms,error_ms\nrising,0.5,3.4,10.8,0.1\nfalling,0.4,2.9,9.6,0.1\n"
STUDY = b"operator,specimen,repeat,value_ms\n" + b"".join(
    b"%c,%c,%d,%.2f\n" % (o, s, r, 5 + s % 7 + 0.1 * r) for o in b"ab" for s in b"xyz" for r in (1, 2)
)
RECORD = b"""version = 1
specimen = "oak"
[[parts]]
position = "r1"
role = "series_resistor"
axis = "left_x"
value = "4.7k"
unit = "ohm"
[[parts]]
position = "c3"
role = "capacitor"
axis = "left_x"
value = "1u"
unit = "F"
"""
SCRIPT = b'title = "Mine"\n[[block]]\nname = "a"\nsteps = [{ action = "rest", duration_s = 1.0 }]\n' \
         b"[[block]]\nflicks_deg = [45, 225]\nflick_s = 0.9\n"  # fmt: skip


@cache
def _page() -> dict[str, bytes]:
    """A small page and the record that it was made from, as they lie beside each other."""
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "oak.toml"
        record.write_bytes(RECORD)
        page = Path(pipeline.report(record, Path(folder) / "page.html"))
        text = page.read_bytes().replace(f"{folder}/".encode(), b"")
    return {"oak.toml": RECORD, "page.html": text}


@cache
def seeds() -> dict[str, tuple[dict[str, bytes], ...]]:
    """Return for each kind the sound samples: files by name (a folder of them for a session)."""
    logs = ROOT / "demo_logs"
    header = (logs / "alder_as_found" / "datapackage.json").read_bytes()
    bare = json.loads(header)
    bare["feelcheck"].pop("truth", None)
    events = [_head(logs / name / "events.csv", n) for name, n in (("alder_as_found", 450), ("birch_as_found", 250))]
    records = [(ROOT / "profiles" / f"{name}.toml").read_bytes() for name in ("alder", "elm")]
    short = records[0].partition(b"[[hand]]")[0]
    scripts = resources.files("feelcheck.recorder") / "scripts"
    return {
        "log": tuple(
            {"log.csv": _log(*style)}
            for style in ((",", ".", "s"), (";", ",", "ms"), ("\t", ".", "us"), (" ", ".", "s"))
        ),
        "session": (
            {"datapackage.json": header, "events.csv": events[0]},
            {"datapackage.json": json.dumps(bare).encode(), "events.csv": events[1]},
        ),
        "capture": (
            {"capture.csv": _capture()},
            {"capture.csv": _head(logs / "birch_field_step.csv", 250)},
            {"capture.txt": _head(logs / "elm_field_step.txt", 250)},
        ),
        "readings": ({"readings.toml": READINGS}, {"readings.csv": READING_ROWS}),
        "study": ({"study.csv": STUDY},),
        "record": ({"record.toml": short}, {"record.toml": records[1]}),
        "page": (_page(),),
        "script": ({"script.toml": SCRIPT}, {"script.toml": (scripts / "quick.toml").read_text().encode()}),
    }
