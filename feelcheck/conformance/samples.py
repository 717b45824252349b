"""Files that readers are held against: each built-in reader's own, everybody's foreign ones, and bad ones."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from feelcheck.model import Action, Script, Step

__all__ = ["BAD", "FOREIGN", "HEADLESS", "LOWER", "OWN", "Sample", "lying_at"]

K = np.arange(400)
X = np.where(K < 80, 0, np.round(30000 * np.sin(K * 0.05))).astype(int)
Y = np.where(K < 80, 12, np.round(20000 * np.cos(K * 0.03))).astype(int)


@dataclass(frozen=True, slots=True)
class Sample:
    """A file or folder that can be made anywhere.

    Parameters
    ----------
    name : str
        What it shows.
    make : callable
        Takes the path and makes it there.
    suffix : str
        How its name ends.
    """

    name: str
    make: Callable[[Path], None]
    suffix: str = ".csv"

    def at(self, folder: Path) -> Path:
        """Make it in a folder and return its path.

        Parameters
        ----------
        folder : Path
            An empty one of the test's own.
        """
        path = folder / f"sample{self.suffix}"
        self.make(path)
        return path


def lying_at(path: Path) -> Sample:
    """Return a sample that copies what lies at a path."""

    def make(target: Path) -> None:
        if path.is_dir():
            shutil.copytree(path, target)
        else:
            shutil.copyfile(path, target)

    return Sample(path.name, make, "".join(path.suffixes[-1:]))


def _wide(path: Path) -> None:
    path.write_text("time_ms,left_x,left_y\n" + "".join(f"{4 * k},{X[k]},{Y[k]}\n" for k in K))


def _semicolons(path: Path) -> None:
    cells = (f"{k * 0.004:.3f};{X[k] / 32767:.5f}\r\n".replace(".", ",") for k in K)
    path.write_text("t [s];x\r\n" + "".join(cells), encoding="utf-16")


def _long(path: Path) -> None:
    path.write_text("timestamp_us,axis,value\n" + "".join(f"{4000 * k},{'xy'[k % 2]},{X[k] + Y[k]}\n" for k in K))


def _stamped(path: Path) -> None:
    path.write_text("time\tx\n" + "".join(f"2024-05-01T10:00:{k * 0.004:06.3f}\t{X[k]}\n" for k in K))


def _session(path: Path) -> None:
    from feelcheck.recorder import RecordingAsked, record_session

    flick = Step(action=Action.FLICK, duration_s=0.7, direction_deg=45.0)
    script = Script(name="short", title="Two flicks", steps=(flick, Step(action=Action.RELEASE, duration_s=0.7)) * 2)
    made = record_session(RecordingAsked(specimen="alder", script=script, source="synthetic", out=path.parent / "made"))
    shutil.move(made, path)


def _headless(path: Path) -> None:
    path.mkdir()
    rows = "".join(f"{4_000_000 * k},{4_000_000 * k},axis,left_x,{X[k]},.\n" for k in K)
    (path / "events.csv").write_text("t_lo_ns,t_hi_ns,kind,name,value,end\n" + rows)
    (path / "datapackage.json").write_text('{"name": "alder"}')


def _scope(path: Path) -> None:
    path.write_text("Time (s),CH1 (V),CH2 (V)\n" + "".join(f"{k * 1e-6:.7f},{k % 50 / 10},{k % 7}\n" for k in K))


def _edges(path: Path, high_v: float = 1.4) -> None:
    volts = np.where((K // 100) % 2 == 1, high_v, 0.2)
    path.write_text("Time (ms),Out (V)\n" + "".join(f"{K[k]},{volts[k]:.3f}\n" for k in K))


def _binary(path: Path) -> None:
    path.write_bytes(np.random.default_rng(1).bytes(5000))


def _prose(path: Path) -> None:
    path.write_text("The pad came back on Tuesday.\nIts left stick feels slow, says the club.\n" * 20)


def _zeros(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(2**30)


def _still(path: Path) -> None:
    path.write_text("time_ms,x\n" + "".join(f"{4 * k},7\n" for k in K))


def _shuffled(path: Path) -> None:
    path.write_text("time_ms,x\n" + "".join(f"{4 * k},{X[k]}\n" for k in sorted(K, key=lambda k: 37 * k % 101)))


def _one_line(path: Path) -> None:
    path.write_text("time_ms,x\n0,5\n")


def _nothing(path: Path) -> None:
    """Make nothing: the path leads nowhere."""


OWN = {
    "delimited": (
        Sample("wide", _wide),
        Sample("semicolons", _semicolons),
        Sample("long", _long),
        Sample("stamped", _stamped),
    ),
    "session": (Sample("session", _session, ""),),
    "scope": (Sample("two_channels", _scope), Sample("edges", _edges)),
}
LOWER = Sample("lower_edges", partial(_edges, high_v=1.3))
"""A capture like the last of the scope's, of another sensor."""
FOREIGN = OWN["scope"]
HEADLESS = Sample("headless", _headless, "")
"""A folder with a session's events and no header: the session reader's to refuse, and nobody else's."""
BAD = (
    Sample("empty", Path.touch),
    Sample("binary", _binary),
    Sample("prose", _prose),
    Sample("zeros", _zeros),
    Sample("still", _still),
    Sample("shuffled", _shuffled),
    Sample("one_line", _one_line),
    Sample("missing", _nothing),
)
