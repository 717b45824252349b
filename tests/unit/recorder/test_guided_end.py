"""How the loop of a guided recording ends."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from feelcheck.errors import RecordingStopped
from feelcheck.formats.session_log import EVENTS_HEADER
from feelcheck.recorder import load_script
from feelcheck.recorder.guide import Command, Guide, GuideView, Stage
from feelcheck.recorder.guided import run_guide
from feelcheck.sources.gamepad.naming import axis_records


class Child:
    """A capture process that records nothing and may be done."""

    def __init__(self, message: dict[str, Any] | None) -> None:
        self.message, self.told = message, list[dict[str, Any]]()

    def listen(self, timeout_s: float) -> dict[str, Any] | None:
        return self.message

    def tell(self, message: dict[str, Any]) -> None:
        self.told.append(message)


class Ends:
    """A face on which the key for the end was pressed."""

    def show(self, view: GuideView) -> Sequence[Command]:
        return [Command.STOP]


@pytest.fixture
def guide(tmp_path: Path) -> Guide:
    """Return a guide at its first page, and an empty events file."""
    (tmp_path / "events.csv").write_text(EVENTS_HEADER)
    return Guide(load_script("quick"), axis_records({0: "left_x", 1: "left_y"}, 2))


def test_the_key_for_the_end_is_not_called_ctrl_c(tmp_path: Path, guide: Guide) -> None:
    child: Any = Child(None)
    face: Any = Ends()
    with pytest.raises(RecordingStopped, match="Ended as you asked") as stopped:
        run_guide(guide, child, tmp_path, face)
    assert (stopped.value.folder, stopped.value.asked) == (tmp_path, True)
    assert [message["note"] for message in child.told] == ["stopped by the person"]


def test_when_the_time_is_up_the_last_page_is_shown(tmp_path: Path, guide: Guide) -> None:
    child: Any = Child({"done": 0})
    face: Any = Ends()
    assert not run_guide(guide, child, tmp_path, face)
    assert guide.view().stage is Stage.FINISHED
