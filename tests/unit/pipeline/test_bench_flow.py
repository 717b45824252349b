"""Several captures named together: repeats make one result, unlike ones stand side by side."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.errors import NotComparableError


def write_step(path: Path, tau_ms: float, seed: int) -> Path:
    """A pole behind a 2 ms ramp, up and down, by a recursion on a fine grid; 0.003 V of noise."""
    rng = np.random.default_rng(seed)
    t_ms = 0.1 * np.arange(800) - 5.0
    ramp = np.clip(t_ms / 2.0, 0, 1) - np.clip((t_ms - 40.0) / 2.0, 0, 1)
    level, state, decay = np.empty_like(ramp), 0.0, np.exp(-0.1 / tau_ms)
    for k, u in enumerate(ramp):
        state = u + (state - u) * decay
        level[k] = state
    volts = 0.2 + 1.4 * level + 0.003 * rng.standard_normal(ramp.size)
    rows = "".join(f"{t:.2f},{u:.4f},{v:.4f}\n" for t, u, v in zip(t_ms, ramp, volts, strict=True))
    path.write_text("Time (ms),Coil (A),Sensor (V)\n" + rows)
    return path


@pytest.fixture(scope="module")
def captures(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("captures")
    taus = {"before": 4.7, "again": 4.7, "after": 1.0}
    return {name: write_step(folder / f"{name}.csv", tau, k) for k, (name, tau) in enumerate(taus.items())}


def test_repeats_are_pooled(captures: dict[str, Path]) -> None:
    (found,) = pipeline.bench_many([captures["before"], captures["again"]])
    assert found.rising is not None
    assert found.rising.n_edges == 2
    assert found.rising.time_constant.value == pytest.approx(4.7e-3, rel=0.02)


def test_unlike_captures_are_set_side_by_side_with_the_advice_to_compare(captures: dict[str, Path]) -> None:
    found = CliRunner().invoke(app, ["bench", str(captures["before"]), str(captures["after"]), "--json"])
    document = json.loads(found.stdout)
    assert (found.exit_code, document["schema"]) == (0, "feelcheck.bench/1")
    values = [result["rising"]["time_constant"]["value"] for result in document["results"]]
    assert values == pytest.approx([4.7, 1.0], rel=0.03)
    for result in document["results"]:
        (said,) = [caveat for caveat in result["caveats"] if caveat["code"] == "not_repeats"]
        assert "before.csv and after.csv differ in smoothing delay rising" in said["text"]
        assert "feelcheck compare" in said["advice"]


def test_unlike_captures_never_become_one_entry_of_a_record(captures: dict[str, Path]) -> None:
    with pytest.raises(NotComparableError, match=r"(?s)Only repeats.*unlike in: smoothing delay rising"):
        pipeline.bench([captures["before"], captures["after"]])


def test_a_part_inferred_from_one_edge_says_that_the_other_contradicts_it(tmp_path: Path) -> None:
    t_ms = 0.1 * np.arange(1400)
    up, down = np.clip(t_ms - 5, 0, None), np.clip(t_ms - 60, 0, None)
    volts = 0.2 + 1.4 * np.where(t_ms < 60, -np.expm1(-up / 4.7), np.exp(-down / 14.0))
    volts += 0.002 * np.random.default_rng(8).standard_normal(t_ms.size)
    coil = ((t_ms > 5) & (t_ms < 60)).astype(float)
    rows = "".join(f"{t:.2f},{u:.0f},{v:.4f}\n" for t, u, v in zip(t_ms, coil, volts, strict=True))
    (tmp_path / "slow_fall.csv").write_text("Time (ms),Coil (A),Sensor (V)\n" + rows)
    words = ["parts", "--resistor", "4.7k", "--from-bench", str(tmp_path / "slow_fall.csv")]
    found = " ".join(CliRunner().invoke(app, words).output.split("\n\n")[0].split())
    assert "the nearest standard value is 1 uF" in found
    assert "The falling edge takes 2.98 times as long" in found
