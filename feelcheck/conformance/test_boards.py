"""The suite of board patterns: each is one, and its parts predict a response."""

from __future__ import annotations

from typing import Any

from feelcheck import pipeline
from feelcheck.model import BoardPattern


def test_a_pattern_has_the_shape_of_one(board_pattern: Any) -> None:
    """Its entry point gives a pattern with a name, a line about it, and parts."""
    assert isinstance(board_pattern, BoardPattern)
    assert board_pattern.name.isidentifier()
    assert board_pattern.about
    assert board_pattern.parts


def test_its_parts_predict_a_response(board_pattern: BoardPattern) -> None:
    """Every part is one that feelcheck parts knows, with a value that it reads."""
    asked = pipeline.on_board(board_pattern.name, pipeline.PartsAsked())
    predicted = pipeline.parts(asked)
    assert predicted.rising is not None
    assert predicted.rising.time_constant.value is not None
