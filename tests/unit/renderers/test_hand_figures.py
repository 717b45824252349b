"""The figure of a recording: its panels, what they hold, and what is said about the missing ones."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from feelcheck.errors import OutputError
from feelcheck.model import (
    AxisResult,
    DirectionResponse,
    Estimate,
    HandResult,
    Provenance,
    Recording,
    TimingResult,
    Trace,
)
from feelcheck.outputs import HAND_FIGURE
from feelcheck.renderers import hand_figures
from feelcheck.renderers._drawn import drawn
from feelcheck.renderers._saving import save_figure, svg_element
from feelcheck.renderers.hand_figures import hand_pictures

TAU_S = 0.010


def _none(quantity: str, unit: str = "s") -> Estimate:
    return Estimate.not_resolved(quantity, unit=unit)


def _response(delay: Estimate) -> DirectionResponse:
    return DirectionResponse(
        time_constant=delay.renamed("time_constant"),
        transition_10_90=_none("transition_10_90"),
        smoothing_delay=delay,
        mean_delay=delay,
        model="one_pole",
    )


def _axis(name: str) -> AxisResult:
    delay = Estimate.measured("smoothing_delay", TAU_S, u=2e-4, unit="s", n=12)
    return AxisResult(
        name=name,
        quantization_step=Estimate.measured("quantization_step", 16.0, u=0.01, unit="counts"),
        resolution=_none("resolution", "bits"),
        rest_noise=Estimate.measured("rest_noise", 7.1, u=0.2, unit="counts"),
        return_error=_none("return_error", "fraction"),
        dead_zone=_none("dead_zone", "fraction"),
        update_interval=_none("update_interval"),
        polarity=None,
        rising=_response(delay),
        falling=_response(delay),
        asymmetry=_none("asymmetry", "ratio"),
    )


def _flick(axis: str, direction: str, contact_s: float, misfit: float = 0.0) -> Trace:
    t_s = contact_s + np.arange(-0.08, 0.12, 0.001)
    sign = 1.0 if direction == "rising" else -1.0
    since = np.maximum(t_s - contact_s, 0.0)
    path = sign * 0.7 * np.where(t_s < contact_s, (t_s - t_s[0]) / 0.1, 1 - 0.2 * np.exp(-since / TAU_S))
    return Trace(
        kind="flick",
        axis=axis,
        arrays={"t_s": t_s, "measured_fs": path + misfit * np.cos(np.arange(t_s.size)), "model_fs": path},
        marks={"contact_s": contact_s},
        labels={"direction": direction, "model": "one_pole"},
    )


def _traces() -> list[Trace]:
    rng = np.random.default_rng(5)
    turn = np.linspace(0, 2 * np.pi, 72)
    t_s = np.arange(3000) / 1000
    return [
        *(_flick("x", "rising", 1.0 + k, misfit=0.001 * k) for k in range(5)),
        *(_flick("x", "falling", 10.0 + k) for k in range(2)),
        Trace(
            kind="lattice",
            axis="x",
            arrays={"level": np.arange(-1600, 1601, 16), "n_reports": np.full(201, 3), "gap": np.full(200, 16)},
            marks={"step": 16.0},
            labels={"unit": "counts"},
        ),
        Trace(kind="intervals", axis="x", arrays={"report_interval_s": rng.gamma(50, 2e-5, 500)}),
        Trace(
            kind="rest",
            axis="x",
            arrays={
                "t_s": t_s,
                "reading": 7.0 * rng.standard_normal(3000),
                "averaging_s": np.geomspace(0.001, 0.3, 8),
                "allan_deviation": np.geomspace(7, 0.5, 8),
            },
        ),
        Trace(
            kind="reach",
            axis="x",
            arrays={
                "x_fs": rng.uniform(-1, 1, 4000),
                "y_fs": rng.uniform(-1, 1, 4000),
                "rim_x_fs": np.cos(turn),
                "rim_y_fs": np.sin(turn),
            },
            labels={"x": "x", "y": "y", "stick": "left"},
        ),
        Trace(
            kind="release",
            axis="x",
            arrays={
                "t_s": np.arange(-0.05, 0.2, 0.001),
                "measured_fraction": np.exp(-np.arange(250) / 60),
                "model_fraction": np.exp(-np.arange(250) / 60),
            },
            labels={"direction": "falling"},
        ),
    ]


def _result(traces: list[Trace], specimen: str = "alder") -> HandResult:
    return HandResult(
        recording=Recording(streams=(), provenance=Provenance(specimen=specimen, state="as_found")),
        n_reports=1000,
        duration_s=1.0,
        timing=TimingResult(
            report_interval=Estimate.measured("report_interval", 0.001, u=1e-9, unit="s", n=900),
            host_jitter=_none("host_jitter"),
            lost_report_fraction=_none("lost_report_fraction", "fraction"),
        ),
        axes={"x": _axis("x")},
        release={"ring_frequency": Estimate.measured("ring_frequency", 43.5, u=0.4, unit="Hz")},
        flicks=(),
        caveats=(),
        traces=tuple(traces),
    )


def hand_figure(result: HandResult) -> Figure:
    return drawn(hand_figures.hand_figure(result))


def _panel(figure: Figure, title: str) -> Axes:
    return next(ax for ax in figure.axes if title in ax.get_title(loc="left"))


def _labelled(ax: Axes, label: str) -> Any:
    return next(line for line in ax.lines if str(line.get_label()).startswith(label))


def test_every_kind_of_trace_gets_its_panel_with_units_on_both_axes() -> None:
    figure = hand_figure(_result(_traces()))
    titles = [ax.get_title(loc="left") for ax in figure.axes]
    assert titles == [
        "x, code rising",
        "x, code falling",
        "Levels in use",
        "Report intervals, x",
        "Reach, left",
        "At rest",
        "How rest noise averages",
        "x, let go, code falling",
    ]
    strips = [cast(Axes, strip) for ax in figure.axes for strip in ax.child_axes]
    assert [strip.get_ylabel() for strip in strips] == ["residual, %"] * 2
    for ax in (*strips, *figure.axes[2:]):
        assert any(unit in ax.get_xlabel() for unit in (", ms", ", s", ", counts", "fraction"))
        assert ax.get_ylabel() or ax.get_title(loc="left") == "Levels in use"
    assert [text.get_text() for text in figure.texts] == ["alder, as found"]


def test_flicks_lie_over_each_other_at_contact_as_shares_of_their_way() -> None:
    ax = _panel(hand_figure(_result(_traces())), "code rising")
    assert any(list(np.asarray(line.get_xdata())) == [0.0, 0.0] for line in ax.lines), "contact"
    since_ms, way = _labelled(ax, "fit").get_data()
    at_contact = np.interp(0.0, since_ms, way)
    # The pole that is left at contact: 20 % of the full level, in per cent of the way from the first reading.
    assert at_contact == pytest.approx(80.0, abs=1.0)
    one_tau_later = np.interp(1e3 * TAU_S, since_ms, way)
    assert 100 - one_tau_later == pytest.approx((100 - at_contact) / np.e, abs=0.5)


def test_the_clearest_flicks_are_in_front_and_falling_ones_go_up_too() -> None:
    figure = hand_figure(_result(_traces()))
    rising, falling = _panel(figure, "code rising"), _panel(figure, "code falling")
    assert _labelled(rising, "reports").get_ydata() == pytest.approx(
        np.interp(_labelled(rising, "reports").get_xdata(), *_labelled(rising, "fit").get_data()), abs=0.5
    )
    assert len(rising.lines) == len(falling.lines) + 3
    assert _labelled(falling, "fit").get_ydata()[-1] > 95


def test_a_panel_says_what_was_concluded() -> None:
    ax = _panel(hand_figure(_result(_traces())), "code rising")
    assert "smoothing delay 10.00 ms (9.61 to 10.39)" in [text.get_text() for text in ax.texts]


def test_the_lattice_panel_has_ticks_on_the_step() -> None:
    ax = _panel(hand_figure(_result(_traces())), "Levels")
    levels, ticks = ([np.asarray(path.vertices)[0, 0] for path in stems.get_paths()] for stems in ax.collections)
    assert np.diff(ticks) == pytest.approx(16.0)
    assert {level % 16 for level in levels} == {0.0}


def test_missing_panels_are_left_out_with_the_reason() -> None:
    figure = hand_figure(_result([trace for trace in _traces() if trace.kind in ("rest", "reach")]))
    assert len(figure.axes) == 3
    _, words = figure.texts
    assert "none ran into the rim" in words.get_text()
    assert "let go" in words.get_text()
    assert "Rest is not drawn" not in words.get_text()


def test_a_result_without_traces_is_a_sheet_of_words() -> None:
    figure = hand_figure(_result([]))
    assert not figure.axes
    assert figure.texts[1].get_text().count("not drawn") == 6


def test_the_axes_of_resting_sticks_are_left_out() -> None:
    still = Trace(kind="lattice", axis="y", arrays={"level": np.array([0, 16]), "n_reports": np.array([5, 5])})
    figure = hand_figure(_result([still]))
    assert not figure.axes


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_the_same_figure_gives_the_same_bytes(tmp_path: Path, suffix: str) -> None:
    traces = _traces() if suffix == ".svg" else _traces()[:1]  # many pixels take long
    for name in ("one", "two"):
        save_figure(hand_figures.hand_figure(_result(traces)), tmp_path / f"{name}{suffix}", HAND_FIGURE)
    assert (tmp_path / f"one{suffix}").read_bytes() == (tmp_path / f"two{suffix}").read_bytes()


def test_other_suffixes_and_missing_folders_are_refused(tmp_path: Path) -> None:
    figure = hand_figure(_result([]))
    with pytest.raises(OutputError, match="written as PNG or SVG"):
        save_figure(figure, tmp_path / "alder.pdf", HAND_FIGURE)
    with pytest.raises(OutputError, match="needs an existing folder"):
        save_figure(figure, tmp_path / "missing" / "alder.png", HAND_FIGURE)


def test_names_are_shown_as_they_are(tmp_path: Path) -> None:
    figure = hand_figures.hand_figure(_result(_traces(), specimen="al$der_$^{2} \u6a39 <b>&"))
    save_figure(figure, tmp_path / "named.svg", HAND_FIGURE)
    text = (tmp_path / "named.svg").read_text(encoding="utf-8")
    assert "al$der_$^{2} \u6a39 &lt;b&gt;&amp;" in text


def test_pictures_for_a_page_carry_words_and_roles() -> None:
    pictures = hand_pictures(_result(_traces()))
    assert list(pictures) == ["flicks", "codes", "rest", "release"]
    picture = pictures["flicks"]
    assert "5 flicks of x, code rising" in picture.description
    text = svg_element(picture.sheet, "f1", picture.title, picture.description)
    assert text.startswith("<svg")
    assert 'role="img" aria-labelledby="f1-title f1-desc"' in text
    assert "var(--second, #96502a)" in text
    assert " width=" not in text.split(">", 1)[0]
    digits = Estimate.measured("smoothing_delay", 0.0043671, u=1e-6, unit="s")
    result = _result(_traces())
    finer = replace(result, axes={"x": replace(_axis("x"), rising=_response(digits))})
    assert "smoothing delay 4.367 ms" in svg_element(hand_pictures(finer)["flicks"].sheet, "f2", "", "")


def test_a_long_rest_keeps_the_file_small(tmp_path: Path) -> None:
    n = 8000 * 120
    long = Trace(
        kind="rest",
        axis="x",
        arrays={
            "t_s": np.arange(n) / 8000,
            "reading": np.r_[np.zeros(n - 1), 50.0],
            "averaging_s": np.array([0.1]),
            "allan_deviation": np.array([1.0]),
        },
    )
    sheet = hand_figures.hand_figure(_result([long]))
    save_figure(sheet, tmp_path / "long.svg", HAND_FIGURE)
    assert (tmp_path / "long.svg").stat().st_size < 100_000
    line = _panel(drawn(sheet), "At rest").lines[0]
    assert np.ptp(np.asarray(line.get_ydata())) == pytest.approx(50.0)
