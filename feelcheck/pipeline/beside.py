"""The process beside a recording: what its flicks say so far, worked out where it disturbs nobody.

Run as ``python -P -m feelcheck.pipeline.beside FOLDER``. Each line on stdin is a request, answered with one JSON line:
``flick`` (what the rim allows in the last flick that counted), ``pooled`` (each way so far), ``last PICTURE`` (what the
finished session says, its card drawn into PICTURE). The process ends with its parent's end of stdin.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np

from feelcheck.errors import FeelcheckError
from feelcheck.hand.gate_stop.flick_range import flick_range
from feelcheck.model import Action, Recording, Status
from feelcheck.pipeline._drawing import draw_card
from feelcheck.pipeline._hand import analyze, read_recording
from feelcheck.pipeline._sessions import changes_since_last
from feelcheck.renderers import format_brief, format_number
from feelcheck.renderers.hand_answer import hand_answer, ways_of

__all__ = ["answer", "main"]

_NICE = 10
_WHOLE_S = 0.01
"""From here on a range is told in whole milliseconds."""
_LONGEST_S = 3.0
"""What of a flick is looked at: its cue and so much after it."""


def answer(request: str, folder: Path) -> dict[str, Any]:
    """Return what is known under a request; empty where nothing can be said yet.

    Parameters
    ----------
    request : str
        A line as described at the top of this module.
    folder : Path
        The session, finished or not.
    """
    word, _, picture = request.partition(" ")
    try:
        if word == "flick":
            return {"flick": _flick_words(read_recording(folder))}
        if word == "pooled":
            return {"ways": _ways(folder)[0]}
        return _last(folder, Path(picture))
    except FeelcheckError as problem:
        return {"lines": [problem.sentence]} if word == "last" else {}


def _ways(folder: Path) -> tuple[list[tuple[str, str, str]], Any]:
    result = analyze(folder)
    told = [way for way in ways_of(result) if way[2].status in (Status.OK, Status.AT_MOST)]
    return [(axis, way, format_brief(estimate)) for axis, way, estimate in told], result


def _last(folder: Path, picture: Path) -> dict[str, Any]:
    ways, result = _ways(folder)
    here = folder.relative_to(Path.cwd()) if folder.is_relative_to(Path.cwd()) else folder
    draw_card(result, picture, f"feelcheck analyze {here} --card {picture.name}")
    lines = hand_answer(result)
    since = changes_since_last(folder, result)
    return {"ways": ways, "lines": [*lines, *([since] if since else [])], "picture": str(picture)}


def _flick_words(recording: Recording) -> str:
    """Return what the rim allows in the last flick that counted, as it stands in the window."""
    flicks = [cue for cue in recording.cues if cue.action is Action.FLICK and cue.counts]
    sticks = {stick.stick: stick for stick in recording.sticks}
    if not flicks or flicks[-1].stick not in sticks:
        return ""
    start_s, stick = flicks[-1].t_s, sticks[flicks[-1].stick]
    streams = {stream.name: stream for stream in recording.streams}
    pair = [streams[name] for name in (stick.x, stick.y) if name in streams]
    if len(pair) < 2:
        return ""
    instants = np.unique(np.concatenate([stream.time.t_hi_s for stream in pair]))
    instants = instants[(instants > start_s) & (instants < start_s + _LONGEST_S)]
    after = [cue.t_s for cue in recording.cues if cue.t_s > start_s]
    instants = instants[instants < (after[0] if after else np.inf)]
    if instants.size < 3:
        return ""
    low_s, high_s = flick_range(instants, *(_held(s.time.t_hi_s, s.fractions, instants) for s in pair))
    if high_s is None:
        return ""
    high = _ms(high_s)
    return f"at most {high} ms" if low_s is None else f"{_ms(low_s)} to {high} ms"


def _ms(delay_s: float) -> str:
    return format_number(1e3 * delay_s, 0 if delay_s >= _WHOLE_S else 1)


def _held(t_s: np.ndarray[Any, Any], values: np.ndarray[Any, Any], at_s: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return the last value at or before each instant."""
    return np.asarray(values[np.maximum(np.searchsorted(t_s, at_s, side="right") - 1, 0)], dtype=np.float64)


def main() -> int:
    """Answer until stdin ends; return the exit code."""
    with contextlib.suppress(AttributeError, OSError):
        os.nice(_NICE)
    folder = Path(sys.argv[1])
    for line in sys.stdin:
        found = answer(line.strip(), folder)
        print(json.dumps({"request": line.split()[0] if line.split() else "", **found}), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
