"""Streams of robots, vehicles and games: read truly or refused by name, never a traceback; see telemetry_logs.py."""

from __future__ import annotations

import json
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.errors import FormatError
from feelcheck.formats._unfold import unfold
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.numbers import MOST_UNFOLDED_COLUMNS

TELEMETRY: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("telemetry_logs.py")))


@pytest.mark.parametrize(
    "seed", [*range(1000, 1008), *(pytest.param(seed, marks=pytest.mark.full) for seed in range(1008, 1060))]
)
def test_a_stream_is_read_truly_or_refused(seed: int, tmp_path: Path) -> None:
    layout, traits, verdict, details = TELEMETRY["judge"](seed, tmp_path)
    assert verdict != "wrong", (layout, traits, details)


@pytest.mark.parametrize("layout", list(TELEMETRY["LAYOUTS"]))
@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.full)])
def test_every_layout_gives_the_axes_back(layout: str, seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    t = np.round(0.02 * np.arange(400), 6)
    x, y = np.round(np.sin(t), 6), np.round(np.cos(1.3 * t), 6)
    made = TELEMETRY["Stream"](t_s=t, x=x, y=y, button=np.arange(400) // 40 % 2, interval_s=0.02, traits=())
    path = tmp_path / "elm.csv"
    path.write_text(TELEMETRY["LAYOUTS"][layout](made, rng))
    recording = DelimitedReader().read(path)
    first = recording.streams[0]
    steps = np.diff(first.time.t_s)
    assert float(np.median(steps)) == pytest.approx(0.04 if layout == "sparse" else 0.02, rel=1e-3)
    truth = np.interp(first.time.t_s - first.time.t_s[0], t, x)
    assert np.corrcoef(first.codes[50:150], truth[50:150])[0, 1] > 0.999


def test_an_update_interval_stands_out_of_a_faster_log_of_lists(tmp_path: Path) -> None:
    from feelcheck.pipeline import analyze

    t = 0.515e-3 * np.arange(20_000)
    held = np.floor(t / 9e-3) * 9e-3
    x, y = np.round(np.sin(3 * held), 4), np.round(np.cos(2 * held), 4)
    path = tmp_path / "elm.csv"
    path.write_text("time_s,axes\n" + "".join(f'{a:.6f},"[{b}, {c}]"\n' for a, b, c in zip(t, x, y, strict=True)))
    result = analyze(path)
    assert result.timing.report_interval.value == pytest.approx(0.515e-3, rel=1e-3)
    for axis in result.axes.values():
        assert axis.update_interval.value == pytest.approx(9e-3, rel=0.01)


LEAVES = st.floats(-9, 9) | st.booleans() | st.text(max_size=5)
NESTED = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3)
)


@settings(max_examples=40)
@given(st.lists(st.dictionaries(st.sampled_from(["t", "x", "pad"]), NESTED, min_size=1), min_size=2, max_size=12))
def test_any_lines_of_json_unfold_into_rows_of_one_width(rows: list[dict[str, Any]]) -> None:
    text, remarks = unfold("".join(json.dumps(row) + "\n" for row in rows))
    lines = text.splitlines()
    assert remarks
    assert len(lines) == len(rows) + 1
    assert len({line.count(";") for line in lines}) == 1


def test_too_many_columns_and_too_deep_nesting_cost_nothing() -> None:
    wide = '{"a": [' + ",".join(["1"] * 2000) + "]}\n"
    with pytest.raises(FormatError, match=f"at most {MOST_UNFOLDED_COLUMNS} columns"):
        unfold(wide * 3)
    deep = '{"a": ' * 5000 + "1" + "}" * 5000 + "\n"
    assert unfold(deep * 3)[1] == ()
