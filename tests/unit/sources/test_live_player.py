"""What a led simulated person's pad hands to SDL, and when."""

from __future__ import annotations

import time
from types import SimpleNamespace
from typing import cast

import numpy as np

from feelcheck.model import Action, Step
from feelcheck.sources.gamepad.led import LivePlayer
from feelcheck.sources.synthetic.live import LivePerson, Stretch


class Person:
    """Stays for ten seconds; a request is answered with one report at 2 s."""

    until_s = 10.0
    world = SimpleNamespace(reports=SimpleNamespace(true_interval_s=0.001))

    def __init__(self) -> None:
        self.heard: list[tuple[float, Step]] = []

    def stay(self) -> Stretch:
        t_s = np.array([0.5, 1.0, 2.5, 3.0])
        return Stretch(begin_s=0.0, sent_s=t_s, codes=np.array([[1, 5], [1, 5], [2, 5], [3, 5]]), buttons=())

    def hear(self, t_s: float, step: Step) -> Stretch:
        self.heard.append((t_s, step))
        buttons = ((2.2, "rim", 1),)
        return Stretch(begin_s=2.0, sent_s=np.array([2.0]), codes=np.array([[9, 9]]), buttons=buttons)


def test_reports_come_when_due_and_a_request_replaces_what_was_planned() -> None:
    person = Person()
    player = LivePlayer(cast(LivePerson, person), ["rim"])
    assert list(player.due(10**12)) == []
    zero_ns = time.perf_counter_ns()
    player.start(zero_ns)
    assert list(player.due(zero_ns + 1_500_000_000)) == [[("axis", 0, 1), ("axis", 1, 5)]]
    player.hear(zero_ns + 1_600_000_000, Step(action=Action.REST, duration_s=1.0))
    until_s = time.monotonic() + 10.0
    while not person.heard and time.monotonic() < until_s:
        time.sleep(0.01)
    player.stop()
    assert [t_s for t_s, _ in person.heard] == [1.6]
    assert list(player.due(zero_ns + 9_000_000_000)) == [[("axis", 0, 9), ("axis", 1, 9)], [("button", 0, 1)]]
    player.stop()


def test_a_person_who_was_worked_out_too_late_reacts_later_on_the_pads_own_grid() -> None:
    player = LivePlayer(cast(LivePerson, Person()), ["rim"])
    zero_ns = time.perf_counter_ns() - 5_000_400_000
    player.start(zero_ns)
    list(player.due(zero_ns + 1_000_000_000))
    player.hear(zero_ns + 1_600_000_000, Step(action=Action.REST, duration_s=1.0))
    player.stop()
    # What was planned before stands until the late reaction.
    assert list(player.due(zero_ns + 5_000_300_000)) == [[("axis", 0, 2)], [("axis", 0, 3)]]
    late = list(player.due(zero_ns + 60_000_000_000))
    assert late == [[("axis", 0, 9), ("axis", 1, 9)], [("button", 0, 1)]]
