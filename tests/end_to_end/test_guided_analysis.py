"""What the analysis makes of a guided session: rejected and retaken flicks must not lead it astray."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from guided_in_no_time import play
from scripted_person import TAU_S
from test_guided_window import BAD, SCRIPT

from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.pipeline import analyze
from feelcheck.recorder.script_files import parse_script


def test_bad_flicks_that_were_repeated_change_nothing(tmp_path: Path) -> None:
    script = parse_script(SCRIPT, "short")
    folder, guide = play(script, BAD.split(","), tmp_path)
    assert guide.finished
    assert (guide.accepted, guide.rejected, guide.skipped) == (8, 4, 0)
    result = analyze(folder)
    for name in ("left_x", "left_y"):
        for direction in (result.axes[name].rising, result.axes[name].falling):
            tau = direction.time_constant
            low, high = coverage_interval(tau)
            assert tau.value == pytest.approx(TAU_S, rel=0.05)
            assert low is not None
            assert high is not None
            assert low < TAU_S < high
