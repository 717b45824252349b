"""What is worked out beside a recording, and how its parent hears of it."""

from __future__ import annotations

import time
from pathlib import Path

from feelcheck.pipeline import Answers
from feelcheck.pipeline.beside import answer

SHIPPED = Path(__file__).parents[3] / "demo_logs" / "birch_as_found"


def test_the_last_flick_and_all_together_are_told() -> None:
    assert answer("flick", SHIPPED)["flick"].endswith(" ms")
    ways = {(axis, way): words for axis, way, words in answer("pooled", SHIPPED)["ways"]}
    assert set(ways) == {(axis, way) for axis in ("left_x", "left_y") for way in ("rising", "falling")}
    assert all("ms" in words for words in ways.values())


def test_a_folder_that_cannot_be_read_says_nothing_or_why(tmp_path: Path) -> None:
    assert answer("flick", tmp_path) == {}
    assert answer("pooled", tmp_path) == {}
    assert len(answer("last card.png", tmp_path)["lines"]) == 1


def test_the_parent_hears_in_time() -> None:
    answers = Answers(SHIPPED)
    try:
        began_s = time.monotonic()
        answers.counted()
        answers.finish()
        while not answers.newest().done and time.monotonic() - began_s < 600.0:
            time.sleep(0.1)
        told = answers.newest()
        assert told.flick
        assert len(told.ways) == 4
        assert Path(told.picture).read_bytes().startswith(b"\x89PNG")
        assert any("trails the thumb" in line for line in told.lines)
    finally:
        answers.close()
        answers.close()
    assert not Path(told.picture).exists()


def test_a_helper_that_is_gone_is_no_news() -> None:
    answers = Answers(SHIPPED)
    answers.close()
    answers.counted()
    assert answers.newest().done
    assert answers.newest().lines == ()
