"""The figure of a capture: edges with fit and marks, the drive underneath, zoomed steps, the transfer curve."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from feelcheck.model import BenchDirection, BenchResult, Capture, Channel, Estimate, Provenance, Trace
from feelcheck.renderers import bench_figures
from feelcheck.renderers._drawn import drawn
from feelcheck.renderers.bench_figures import bench_pictures

ONSET_S = 0.005
TAU_S = 0.004


def _none(quantity: str, unit: str = "s") -> Estimate:
    return Estimate.not_resolved(quantity, unit=unit)


def _side(tau: Estimate) -> BenchDirection:
    return BenchDirection(
        time_constant=tau,
        transition_10_90=Estimate.at_least("transition_10_90", 0.0088, unit="s"),
        step_transition_10_90=_none("step_transition_10_90"),
        dead_time=_none("dead_time"),
        smoothing_delay=tau,
        mean_delay=tau,
        settled_fraction=_none("settled_fraction", "fraction"),
    )


def _edge(direction: str, *, drive: bool = True) -> Trace:
    t_s = np.arange(0.0, 0.1, 1e-4)
    way = 1 - np.exp(-np.maximum(t_s - ONSET_S, 0.0) / TAU_S)
    output = 0.4 + way if direction == "rising" else 1.4 - way
    arrays = {"t_s": t_s, "output": output, "fit_t_s": t_s, "fit": output}
    if drive:
        arrays["drive"] = np.where(t_s < ONSET_S, -0.5, 0.5)
    at = {f"t{p}_s": ONSET_S - TAU_S * np.log(1 - p / 100) for p in (10, 50, 90)}
    return Trace(
        kind="edge", axis="out", arrays=arrays, marks={"onset_s": ONSET_S, **at}, labels={"direction": direction}
    )


def _stairs() -> Trace:
    t_s = np.arange(0.0, 0.02, 1e-5)
    return Trace(
        kind="stairs",
        axis="out",
        arrays={"t_s": t_s, "output": np.floor(t_s / 0.00065), "steps_s": 0.00065 * np.arange(1, 30)},
        marks={"interval_s": 0.00065},
    )


def _transfer() -> Trace:
    drive = np.linspace(-1, 1, 60)
    return Trace(kind="transfer", axis="out", arrays={"drive": drive, "up": drive + 0.02, "down": drive - 0.02})


def _result(*traces: Trace, output_unit: str = "V", **extra: Estimate) -> BenchResult:
    tau = Estimate.measured("time_constant", TAU_S, u=2e-5, unit="s")
    capture = Capture(
        t_s=np.arange(5.0),
        interval_s=1.0,
        channels=(
            Channel(name="coil", values=np.zeros(5), unit="A", role="drive"),
            Channel(name="out", values=np.zeros(5), unit=output_unit, role="output"),
        ),
        provenance=Provenance(path="alder.csv"),
    )
    return BenchResult(
        capture=capture,
        drive_name="coil",
        output_name="out",
        drive_transition=None,
        drive_swing=None,
        drive_kind="field",
        rising=_side(tau),
        falling=_side(tau),
        asymmetry=_none("asymmetry", "ratio"),
        update_interval=Estimate.measured("update_interval", 0.00065, u=1e-6, unit="s"),
        noise=_none("noise", "V"),
        swing=_none("swing", "V"),
        traces=traces,
        extra=extra,
    )


def bench_figure(result: BenchResult) -> Figure:
    return drawn(bench_figures.bench_figure(result))


def _labelled(ax: Axes, label: str) -> Any:
    return next(line for line in ax.lines if line.get_label() == label)


def _texts(figure: Figure) -> str:
    return "\n".join(text.get_text() for ax in figure.axes for text in ax.texts)


def test_each_direction_shows_output_over_residuals_over_drive_on_one_time_axis() -> None:
    figure = bench_figure(_result(_edge("rising"), _edge("falling")))
    rising, falling = figure.axes
    left, drive = rising.child_axes
    assert [rising.get_title(loc="left"), falling.get_title(loc="left")] == ["Rising", "Falling"]
    assert rising.get_shared_x_axes().joined(rising, drive)
    labels = [ax.get_ylabel() for ax in (rising, left, drive)]
    assert labels == ["out, V", "residual, %", "drive, A"]
    assert drive.get_xlabel() == "time since the onset, ms"
    assert np.asarray(drive.lines[0].get_ydata())[-1] == 0.5


def test_marks_sit_on_the_fit_at_10_50_and_90_per_cent() -> None:
    ax = bench_figure(_result(_edge("rising"))).axes[0]
    marks = [line for line in ax.lines if np.size(line.get_xdata()) == 1]
    assert [float(np.asarray(m.get_ydata())[0]) for m in marks] == pytest.approx([0.5, 0.9, 1.3], abs=0.002)
    assert float(np.asarray(marks[0].get_xdata())[0]) == pytest.approx(-1e3 * TAU_S * np.log(0.9))
    assert {"10 %", "50 %", "90 %"} <= {text.get_text() for text in ax.texts}


def test_the_view_is_zoomed_to_the_transition() -> None:
    ax = bench_figure(_result(_edge("rising"))).axes[0]
    low, high = ax.get_xlim()
    room_ms = 1e3 * TAU_S * np.log(9)
    assert -1e3 * ONSET_S <= low < 0
    assert high == pytest.approx(-1e3 * TAU_S * np.log(0.1) + 2.5 * room_ms)


def test_what_was_concluded_stands_under_the_title_bounds_included() -> None:
    text = _texts(bench_figure(_result(_edge("rising"))))
    assert "time constant 4.000 ms (3.961 to 4.039)" in text
    assert "10 to 90 % at least 8.80 ms" in text


def test_without_a_drive_only_residuals_stand_underneath() -> None:
    figure = bench_figure(_result(_edge("rising", drive=False)))
    (ax,) = figure.axes
    assert [strip.get_ylabel() for strip in ax.child_axes] == ["residual, %"]


def test_residuals_are_the_output_less_the_fit_in_per_cent_of_its_height() -> None:
    edge = _edge("rising")
    bent = replace(edge, arrays={**edge.arrays, "output": np.asarray(edge.arrays["output"]) + 0.02})
    left = bench_figure(_result(bent)).axes[0].child_axes[0].lines[-1]
    np.testing.assert_allclose(np.asarray(left.get_ydata()), 2.0, atol=0.1)


def test_an_edge_that_was_cut_fills_its_panel_and_says_where_the_record_ended() -> None:
    edge = _edge("rising")
    kept = np.asarray(edge.arrays["t_s"]) < ONSET_S + TAU_S
    cut = replace(
        edge,
        arrays={**edge.arrays, **{name: np.asarray(edge.arrays[name])[kept] for name in ("t_s", "output", "drive")}},
        marks={name: at for name, at in edge.marks.items() if name != "t90_s"},
    )
    ax = bench_figure(_result(cut)).axes[0]
    low, high = ax.get_xlim()
    assert -low < 0.15 * high
    assert "end of the record" in {text.get_text() for text in ax.texts}


def test_an_unknown_unit_is_said() -> None:
    assert bench_figure(_result(_edge("rising"), output_unit="")).axes[0].get_ylabel() == "out, unit unknown"


def test_steps_are_zoomed_and_marked() -> None:
    ax = bench_figure(_result(_stairs())).axes[0]
    step = _labelled(ax, "step")
    assert float(np.asarray(step.get_xdata())[0]) == pytest.approx(0.65)
    shown = ax.lines[0].get_xdata()
    assert float(np.max(np.asarray(shown))) < 0.65 * 11
    assert "held for 0.6500 ms" in _texts(bench_figure(_result(_stairs())))


def test_the_transfer_curve_tells_up_from_down_without_colour() -> None:
    sensitivity = Estimate.measured("sensitivity", 1.02, u=0.01, unit="V/A")
    ax = bench_figure(_result(_transfer(), sensitivity=sensitivity)).axes[0]
    up, down = _labelled(ax, "drive going up"), _labelled(ax, "drive going down")
    assert up.get_marker() != down.get_marker()
    assert up.get_linestyle() != down.get_linestyle()
    assert ax.get_xlabel() == "drive, A"
    assert "sensitivity 1.020 V/A" in _texts(ax.figure)  # type: ignore[arg-type]


def test_a_result_without_edges_says_so() -> None:
    figure = bench_figure(_result())
    assert not figure.axes
    assert figure.texts[1].get_text() == "Edges are not drawn: the result holds none."
    assert bench_pictures(_result()) == {}


def test_the_picture_of_a_page_has_words() -> None:
    picture = bench_pictures(_result(_edge("rising"), _edge("falling")))["edges"]
    assert picture.title == "Edges on the bench: alder.csv"
    assert "Rising edge of out" in picture.description
    assert "at least 8.80 ms" in picture.description
