"""Pads told as one report each, with what would limit a recording."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from feelcheck.errors import SourceError
from feelcheck.model import Status
from feelcheck.renderers.devices_text import devices_json, devices_text
from feelcheck.sources.devices import list_devices, survey
from feelcheck.sources.devices.limits import limits_of
from feelcheck.sources.devices.survey import combined
from feelcheck.sources.devices.views import Seen, View
from feelcheck.sources.gamepad.virtual import Change, VirtualPad

AXIS = {"name": "left_x", "minimum": 0, "maximum": 255}


def view(source: str = "evdev", *, path: str = "/dev/input/event5", product: int = 7, refused: str = "") -> View:
    facts = {} if refused else {"axes": [AXIS], "backend": "system", "hints": {}, "guid": "03"}
    numbers = (3, 0x1209, product)
    return View(source=source, name="alder pad", path=path, numbers=numbers, facts=facts, refused=refused)


def codes(
    *, system: str = "linux", refused: str = "", bus: int = 3, n: int = 9, **sources: Mapping[str, object]
) -> set[str]:
    return {limit.code for limit in limits_of(sources, refused=refused, bus=bus, system=system, n_changes=n)}


def test_one_pad_seen_both_ways_is_one_report() -> None:
    (report,) = combined([view()], [view("gamepad")], 2.0)
    assert report.backends == ("evdev", "SDL system")
    assert (report.source, report.clock.split()[1]) == ("evdev", "kernel's")


def test_sdls_own_driver_is_matched_by_model_and_another_node_is_not() -> None:
    assert len(combined([view()], [view("gamepad", path="/dev/hidraw2")], 0.0)) == 1
    assert len(combined([view()], [view("gamepad", path="/dev/hidraw2", product=8)], 0.0)) == 2
    assert len(combined([view()], [view("gamepad", path="/dev/input/event6")], 0.0)) == 2


def test_a_pad_that_may_not_be_read_keeps_its_other_way_and_says_what_helps() -> None:
    (report,) = combined([view(refused="Join the group.")], [view("gamepad")], 0.0)
    assert report.source == "gamepad"
    assert [limit.advice for limit in report.limits if limit.code == "permission"] == ["Join the group."]


def test_what_was_seen_is_told_of_each_axis() -> None:
    moved = view()
    moved.seen = Seen()
    moved.seen.add([(k, k, "axis", "left_x", 100 + k) for k in range(5)] + [(9, 9, "button", "button_0", 1)])
    (axis,) = combined([moved], [], 1.0)[0].axes
    assert (axis.n_changes, axis.lowest, axis.highest, axis.native_step.value) == (5, 100, 104, 1.0)


EVDEV = {"kernel_smoothing_before": "none", "kernel_smoothing": "none"}
SDL = {"backend": "system", "hints": {}}


def test_nothing_limits_a_good_pad() -> None:
    assert codes(evdev=EVDEV, gamepad=SDL) == set()
    assert codes(system="win32", gamepad={"backend": "rawinput", "hints": {}}) == set()


def test_each_limit_is_named() -> None:
    assert codes(evdev=EVDEV | {"kernel_smoothing_before": "left_x 16"}, gamepad=SDL) == {"smoothing"}
    assert codes(evdev=EVDEV | {"kernel_smoothing": "left_x 16"}, gamepad=SDL) == {"smoothed"}
    assert codes(gamepad=SDL) == {"smoothing_unknown"}
    assert codes(evdev=EVDEV) == {"not_in_sdl"}
    assert codes(evdev=EVDEV, gamepad=SDL, bus=5, n=0) == {"wireless", "silent"}
    assert codes(system="win32", gamepad={"backend": "xinput"}) == {"polled"}
    assert codes(system="darwin", gamepad=SDL) == {"polled"}
    assert codes(system="win32", gamepad={"backend": "wgi"}) == {"polled", "focus"}
    hints = {"SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS": "0"}
    assert codes(system="win32", gamepad={"backend": "hidapi", "hints": hints}) == {"focus"}


def test_every_limit_has_a_remedy() -> None:
    found = limits_of({"gamepad": {"backend": "wgi"}}, refused="Join.", bus=5, system="linux", n_changes=0)
    assert len(found) == 6
    assert all(limit.advice for limit in found)


@pytest.fixture
def only_sdl(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(survey, "evdev_views", lambda: iter(()))


@pytest.mark.usefixtures("only_sdl")
def test_a_virtual_pad_on_sdls_real_path_is_watched() -> None:
    start_ns = time.perf_counter_ns()
    sent = [0]

    def due(now_ns: int) -> Iterator[list[Change]]:
        while sent[0] < (now_ns - start_ns) // 4_000_000:
            sent[0] += 1
            yield [("axis", 0, sent[0] * 37 % 256 * 257 - 32768)]

    pad = VirtualPad(2, 3, due)
    pad.start()
    try:
        # A busy machine looks late: then no interval is told, and it is watched again.
        for _ in range(5):
            (report,) = list_devices(1.0)
            if report.report_interval.is_ok:
                break
    finally:
        pad.close()
    assert (report.source, report.backends, len(report.buttons)) == ("gamepad", ("SDL virtual",), 3)
    assert report.axes[0].native_step.value == pytest.approx(257)
    assert report.axes[1].n_changes == 0
    assert report.report_interval.value in (None, pytest.approx(0.004, rel=0.01))  # none, on a machine too busy to look


@pytest.mark.usefixtures("only_sdl")
def test_without_a_pad_the_list_is_empty_and_says_what_to_check() -> None:
    assert list_devices(0.0) == ()
    assert "some only charge" in devices_text(())
    assert json.loads(devices_json(())) == {"schema": "feelcheck.devices/1", "devices": []}


def test_time_does_not_run_backward() -> None:
    with pytest.raises(SourceError, match="cannot be negative"):
        list_devices(-1.0)


def test_the_text_names_every_part(tmp_path: Path) -> None:
    moved = view()
    moved.seen.add([(k, k, "axis", "left_x", 100 + k) for k in range(5)])
    reports = combined([moved], [], 1.0)
    text = devices_text(reports)
    for words in (
        "alder pad",
        "--source evdev",
        "kernel's stamp",
        "0 to 255",
        "100 to 104",
        "What would limit",
        "--source evdev.",
    ):
        assert words in text
    (told,) = json.loads(devices_json(reports))["devices"]
    assert told["axes"][0]["native_step"]["value"] == 1.0
    assert told["report_interval"]["status"] == Status.NOT_RESOLVED
    assert [limit["code"] for limit in told["limits"]] == ["not_in_sdl"]
