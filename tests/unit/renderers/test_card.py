"""The picture to share holds the value, its interval, where it comes from and how to make it again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from feelcheck.pipeline import analyze, bench, compare, draw_card
from feelcheck.renderers._format import format_brief
from feelcheck.renderers.card import bench_card, comparison_card, hand_card

SHIPPED = Path(__file__).parents[3] / "demo_logs"


def words(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.texts]


@pytest.fixture(scope="module")
def capture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Steps of 4 ms up and 6 ms down, by formula."""
    t_ms = 0.05 * np.arange(1600)
    out = np.where(t_ms < 10, 0.0, np.where(t_ms < 50, 1 - np.exp(-(t_ms - 10) / 4.0), np.exp(-(t_ms - 50) / 6.0)))
    out = out + 0.001 * np.random.default_rng(1).standard_normal(t_ms.size)
    path = tmp_path_factory.mktemp("bench") / "step.csv"
    drive = (t_ms >= 10) & (t_ms < 50)
    rows = (f"{t:.2f},{int(d)},{v:.5f}\n" for t, d, v in zip(t_ms, drive, out, strict=True))
    path.write_text("Time (ms),Coil (A),Sensor (V)\n" + "".join(rows))
    return path


def test_a_recordings_card_says_its_slowest_way_first(tmp_path: Path) -> None:
    result = analyze(SHIPPED / "birch_as_found")
    slowest = max(
        (result.axes[name].falling.smoothing_delay for name in ("left_x", "left_y")), key=lambda e: e.value or 0
    )
    said = words(hand_card(result, "feelcheck analyze birch --card birch.png"))
    value, _, ends = format_brief(slowest).partition(" (")
    assert value in said
    assert f"{ends.rstrip(')')}, 19 times in 20" in said
    assert {"birch, as found", "In the hand, simulated", "feelcheck analyze birch --card birch.png"} <= set(said)
    assert sum("rising" in text for text in said) >= 2
    draw_card(result, tmp_path / "card.png", "again")
    draw_card(result, tmp_path / "card.png", "again")
    assert b"Made by feelcheck: card." in (tmp_path / "card.png").read_bytes()


def test_a_captures_card_says_its_slower_direction_first(capture: Path, tmp_path: Path) -> None:
    result = bench([capture])
    figure = bench_card(result, "again")
    said = words(figure)
    assert "time constant, output falling" in said
    assert any(text.startswith(("5.99", "6.0")) and text.endswith("ms") for text in said)
    assert "On the bench, from a file" in said
    assert len(figure.axes) == 1
    draw_card(result, tmp_path / "card.svg", "again")


def test_a_comparisons_card_says_its_largest_difference_first(tmp_path: Path) -> None:
    records = [SHIPPED.parent / "profiles" / f"{name}.toml" for name in ("alder", "birch")]
    result = compare(str(records[0]), [str(records[1])])
    largest = max((m.difference for m in result.metrics if m.name == "smoothing_delay"), key=lambda e: e.value or 0)
    figure = comparison_card(result, "again")
    said = words(figure)
    assert format_brief(largest).partition(" (")[0] in said
    assert {"birch against alder", "Difference of smoothing delay, simulated", "again"} <= set(said)
    assert any(text.endswith("falling: different") for text in said)
    assert len(figure.axes) == 1
    draw_card(result, tmp_path / "card.png", "again")
    assert b"Made by feelcheck: card." in (tmp_path / "card.png").read_bytes()


def test_a_card_without_a_value_still_says_so_and_how_it_was_made() -> None:
    t_s = np.arange(0, 4, 0.004)
    import pandas as pd

    frame = pd.DataFrame({"t_s": t_s, "left_x": np.round(60 * np.sin(t_s)), "left_y": np.round(60 * np.cos(t_s))})
    long = "feelcheck analyze " + " ".join(f"bench/alder_{k}.csv" for k in range(9))
    said = words(hand_card(analyze(frame), long))
    assert "not resolved" in said
    (command,) = [text for text in said if text.startswith("feelcheck")]
    assert command.replace("\n", " ") == long
    assert max(map(len, command.split("\n"))) < 100, "the card is no wider"
