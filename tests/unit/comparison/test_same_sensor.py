"""Same sensor behind different parts, or different sensors: each piece of evidence and what its absence is worth."""

from __future__ import annotations

from dataclasses import replace

from feelcheck.comparison.same_sensor import BoardResponse, compare_sensors
from feelcheck.model import Estimate


def s(name: str, value_ms: float, u_ms: float) -> Estimate:
    return Estimate.measured(name, value_ms / 1e3, u=u_ms / 1e3, unit="s", n=4, dof=20)


def board(name: str, delay_ms: float, network_ms: float, **more: Estimate) -> BoardResponse:
    known = {
        "update_interval": Estimate.not_present("update_interval", unit="s"),
        "sensitivity": Estimate.measured("sensitivity", 1.2, u=0.01, unit="V/A", dof=20),
        "saturation_swing": Estimate.not_present("saturation_swing", unit="V"),
    }
    return BoardResponse(
        name=name,
        delay=s("delay", delay_ms, 0.02),
        network_delay=s("network", network_ms, 0.05),
        drive_unit="A",
        drive_s=0.002,
        **{**known, **more},
    )


def test_the_network_explains_the_difference() -> None:
    found = compare_sensors(board("alder", 3.1, 3.0), board("birch", 9.1, 9.0))
    assert found.verdict == "consistent_with_one_sensor"
    assert "residual delay" in found.decided_by


def test_a_residual_that_parts_do_not_explain() -> None:
    found = compare_sensors(board("alder", 3.1, 3.0), board("elm", 7.0, 3.0))
    assert (found.verdict, found.decided_by) == ("different", ("residual delay",))


def test_another_sensitivity_is_another_sensor() -> None:
    quiet = board("cedar", 3.1, 3.0, sensitivity=Estimate.measured("sensitivity", 0.5, u=0.01, unit="V/A", dof=20))
    assert compare_sensors(board("alder", 3.1, 3.0), quiet).decided_by == ("sensitivity",)


def test_absent_steps_behind_a_slow_filter_are_no_evidence() -> None:
    stepping = board("elm", 1.1, 1.0, update_interval=s("update_interval", 0.667, 0.001))
    found = compare_sensors(board("birch", 9.433, 9.0), stepping)
    assert found.verdict == "consistent_with_one_sensor"
    assert "its filter would hide them" in found.remarks[0]


def test_a_board_quick_enough_lacks_steps_only_behind_a_drive_that_would_show_them() -> None:
    """Steps of 2 ms on elm; birch answers in 1.2 or 1.8 ms behind a drive of 2 or 0.5 ms."""
    stepping = board("elm", 1.1, 0.1, update_interval=s("update_interval", 2.0, 0.001))
    for delay_ms, drive_s, lacking in ((1.2, 0.002, True), (1.2, 0.0005, False), (1.8, 0.002, False)):
        found = compare_sensors(replace(board("birch", delay_ms, 0.1), drive_s=drive_s), stepping)
        assert ("quick enough to show them, does not" in found.remarks[0]) == lacking


def test_parts_that_leave_much_open_at_95_per_cent_are_to_be_measured() -> None:
    """0.15 ms either way by itself, more than 0.25 ms at 95 %."""
    vague = replace(board("alder", 3.1, 3.0), network_delay=s("network", 3.0, 0.15))
    found = compare_sensors(vague, board("birch", 3.1, 3.0))
    assert found.verdict == "cannot_tell"
    assert any("measure them" in remark for remark in found.remarks)


def test_unlike_steps_are_different_sensors() -> None:
    fast = board("alder", 1.1, 1.0, update_interval=s("update_interval", 0.5, 0.001))
    slow = board("elm", 1.1, 1.0, update_interval=s("update_interval", 0.667, 0.001))
    assert compare_sensors(fast, slow).decided_by == ("update interval",)


def test_unknown_parts_leave_it_open() -> None:
    unknown = replace(board("birch", 9.1, 9.0), network_delay=Estimate.not_resolved("network", unit="s"))
    assert compare_sensors(board("alder", 3.1, 3.0), unknown).verdict == "cannot_tell"


def test_drives_in_unlike_units_do_not_compare_sensitivity() -> None:
    other = replace(board("birch", 9.1, 9.0), drive_unit="V")
    found = compare_sensors(board("alder", 3.1, 3.0), other)
    assert found.verdict == "cannot_tell"
    assert "sensitivity" not in found.evidence


def test_the_order_of_the_boards_does_not_matter() -> None:
    a, b = board("alder", 3.1, 3.0), board("birch", 12.0, 9.0)
    assert compare_sensors(a, b).verdict == compare_sensors(b, a).verdict == "different"


def test_steps_that_a_quick_board_lacks_set_two_sensors_apart() -> None:
    stepping = board("elm", 1.1, 1.0, update_interval=s("update_interval", 0.667, 0.001))
    found = compare_sensors(board("cedar", 0.3, 0.2), stepping)
    assert (found.verdict, found.decided_by) == ("different", ("internal steps",))


def test_an_open_verdict_says_what_stands_in_the_way() -> None:
    found = compare_sensors(board("alder", 3.1, 3.0), replace(board("birch", 9.1, 9.0), network_delay=s("n", 9.0, 0.6)))
    assert found.verdict == "cannot_tell"
    assert any("measure them" in remark for remark in found.remarks)


def test_a_hold_that_both_filters_hide_is_looked_for_in_the_delay() -> None:
    found = compare_sensors(board("alder", 3.2, 3.0), board("elm", 9.533, 9.0))
    assert found.verdict == "cannot_tell"


def test_under_a_step_drive_unseen_samples_leave_it_open() -> None:
    quick = [replace(board(name, d + 0.2, d), drive_s=0.0) for name, d in (("alder", 3.0), ("birch", 9.0))]
    found = compare_sensors(*quick)
    assert found.verdict == "cannot_tell"
    assert any("too quick" in remark for remark in found.remarks)
    late = replace(board("elm", 9.9, 9.0), drive_s=0.0)
    assert compare_sensors(quick[0], late).verdict == "cannot_tell"
    assert compare_sensors(board("alder", 3.2, 3.0), board("elm", 9.9, 9.0)).verdict == "different"


def test_a_board_that_could_just_hide_the_others_steps_is_not_accused() -> None:
    stepping = board("elm", 0.3, 0.1, update_interval=s("update_interval", 0.667, 0.001))
    assert compare_sensors(stepping, board("birch", 0.933, 0.4)).verdict == "consistent_with_one_sensor"
    assert compare_sensors(stepping, board("cedar", 0.5, 0.2)).verdict == "cannot_tell"
