"""What the texts say: statuses in words, remarks once, nothing where there is nothing to say."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

from feelcheck.comparison import repeatability_of
from feelcheck.errors import FeelcheckError
from feelcheck.model import (
    AxisReport,
    AxisResult,
    BenchDirection,
    BenchResult,
    Capture,
    Caveat,
    Channel,
    DeviceReport,
    DirectionResponse,
    Estimate,
    FlickRecord,
    Gap,
    HandResult,
    Provenance,
    QuickChange,
    Recording,
    RimBracket,
    SessionOnShelf,
    TimingResult,
)
from feelcheck.outputs import BENCH_FIGURE
from feelcheck.renderers._format import format_brief, format_difference, format_estimate, format_interval, name_of
from feelcheck.renderers._json import encoded
from feelcheck.renderers._panels import Panel, sheet
from feelcheck.renderers._saving import save_figure, svg_element
from feelcheck.renderers._thinning import envelope, evenly
from feelcheck.renderers.bench_json import bench_json
from feelcheck.renderers.bench_text import bench_text
from feelcheck.renderers.compare_json import repeatability_json
from feelcheck.renderers.devices_text import devices_json, devices_text
from feelcheck.renderers.guide import guide_text
from feelcheck.renderers.hand_json import hand_json
from feelcheck.renderers.hand_text import hand_text
from feelcheck.renderers.repeatability_text import repeatability_text
from feelcheck.renderers.sessions_text import answer_text, sessions_json, sessions_text

FEW = Caveat(code="few", text="Two flicks only.", advice="Record ten.")
NOTHING = Estimate.not_resolved("q", unit="s", caveats=(FEW,))


def told(value: float, unit: str = "s", u: float = 0.0) -> Estimate:
    return Estimate.measured("q", value, u=u, unit=unit, n=12)


def line_of(text: str, start: str) -> str:
    """Return the only line that begins so, its columns one blank apart."""
    (found,) = (line for line in text.splitlines() if line.strip().startswith(start))
    return " ".join(found.split())


SILENT = DirectionResponse(time_constant=NOTHING, transition_10_90=NOTHING, smoothing_delay=NOTHING, mean_delay=NOTHING)
POLE = DirectionResponse(
    time_constant=told(0.009), transition_10_90=told(0.0198), smoothing_delay=told(0.009, u=0.0001),
    mean_delay=told(0.009), model="one_pole", poles=(told(0.009),),
)  # fmt: skip
AXIS = AxisResult(
    name="left_x", quantization_step=told(16.0, "counts"), resolution=told(12.0, "bits"),
    rest_noise=Estimate.at_most("rest_noise", 8.0, unit="counts"), return_error=told(0.0123, "fraction"),
    dead_zone=Estimate.not_present("dead_zone", unit="fraction"), update_interval=NOTHING, polarity=1, rising=POLE,
    falling=replace(POLE, smoothing_delay=Estimate.at_most("q", 0.001, unit="s"), model="two_pole"),
    asymmetry=told(1.5, "ratio", 0.1),
)  # fmt: skip
TIMING = TimingResult(
    report_interval=told(0.004), host_jitter=told(0.0002),
    lost_report_fraction=Estimate.at_most("q", 0.004, unit="fraction"),
    gaps=(Gap(start_s=1.5, end_s=1.75, reason="unplugged"),),
)  # fmt: skip
PROVENANCE = Provenance(
    path="elm.csv", format="delimited", specimen="elm", state="as_found", remarks=("one line torn",)
)
HAND = HandResult(
    recording=Recording(streams=(), provenance=PROVENANCE), n_reports=500, duration_s=2.0, timing=TIMING,
    axes={"left_x": AXIS, "left_y": replace(AXIS, name="left_y", rising=SILENT, falling=SILENT)}, release={},
    flicks=tuple(FlickRecord(start_s=k, direction_deg=45.0, kind="flick", used=k < 2, why_not="" if k < 2 else "short")
                 for k in range(4)), caveats=(FEW,),
)  # fmt: skip


def test_a_recording_in_words() -> None:
    text = hand_text([HAND])
    opening = " ".join(text.split("\n\n")[0].split())
    assert opening.startswith(
        "In the hand: elm, as_found The reading trails the thumb by 9.00 ms (8.80 to 9.20) on left_x"
    )
    assert "Falling takes longer than rising: 1.50 (1.30 to 1.70) times on left_x" in opening
    assert text.split("\n\n")[1].startswith("Electronics")
    assert text.endswith("Read\n  elm.csv (500 reports in 2.0 s, delimited)\n  one line torn")
    assert line_of(text, "gaps") == "gaps 1 0.250 s at 1.5 s"
    assert line_of(text, "lost while moving") == "lost while moving at most 0.400 %"
    rows = [" ".join(line.split()) for line in text.splitlines()]
    assert "left_x rising 9.00 ms (8.80 to 9.20) 9.000 ms 19.80 ms one pole 12" in rows
    assert "falling at most 1.00 ms 9.000 ms 19.80 ms two poles 12" in [row.removeprefix("left_x ") for row in rows]
    assert "falling / rising 1.50 (1.30 to 1.70)" in rows
    assert any(row.startswith("left_x 16.00 counts 12.00 bits at most 8.00 counts 1.230 % none seen") for row in rows)
    assert line_of(text, "not answered for") == "not answered for left_y [1]"
    assert line_of(text, "4 found") == "4 found, 2 used"
    assert line_of(text, "2 left out") == "2 left out: short"
    assert text.count("Two flicks only. Record ten.") == 1
    assert "Spring return" not in text


@pytest.mark.parametrize(
    ("low_s", "high_s", "words"),
    [(0.0073, 0.0103, "7.3 to 10.3 ms"), (None, 0.0103, "at most 10.3 ms"), (None, None, "")],
)
def test_what_the_rim_allows_stands_in_its_row(low_s: float | None, high_s: float | None, words: str) -> None:
    bracket = RimBracket(family="one_pole", low_s=low_s, high_s=high_s, n=12)
    axis = replace(AXIS, rising=replace(POLE, rim_bracket=bracket))
    rows = [" ".join(line.split()) for line in hand_text([replace(HAND, axes={"left_x": axis})]).splitlines()]
    row = next(row for row in rows if row.startswith("left_x rising"))
    assert row == f"left_x rising 9.00 ms (8.80 to 9.20) 9.000 ms 19.80 ms one pole {words} 12".replace("  ", " ")
    told = encoded(bracket)
    assert told is not None
    assert [told[key] for key in ("low", "high")] == [
        None if s is None else pytest.approx(1e3 * s) for s in (low_s, high_s)
    ]


@pytest.mark.parametrize(
    ("more", "word"), [({"simulated": True}, "(simulated)"), ({"complete": False}, "(unfinished)"), ({}, "as_found")]
)
def test_what_a_recording_is_stands_in_its_heading(more: dict[str, Any], word: str) -> None:
    marked = replace(HAND, recording=replace(HAND.recording, provenance=replace(PROVENANCE, **more)))
    assert hand_text([marked]).splitlines()[0].endswith(word)


def test_json_of_a_recording_keeps_units_statuses_and_gaps() -> None:
    document = json.loads(hand_json([HAND]))
    axis = document["axes"]["left_x"]
    assert axis["rising"]["smoothing_delay"]["value"] == 9.0
    assert axis["falling"]["smoothing_delay"] == {
        "value": None, "low": None, "high": 1.0, "u": None, "unit": "ms", "n": 1, "status": "at_most", "caveats": []
    }  # fmt: skip
    assert axis["return_error"]["value"] == 0.0123
    assert document["timing"]["gaps"] == [{"start_s": 1.5, "duration_ms": 250.0, "reason": "unplugged"}]
    assert [flick["why_not"] for flick in document["flicks"]] == ["", "", "short", "short"]
    several = json.loads(hand_json([HAND, HAND]))
    assert [one["schema"] for one in several["results"]] == ["feelcheck.hand/1"] * 2


SIDE = BenchDirection(
    time_constant=told(0.004, u=0.0001), transition_10_90=told(0.0088), step_transition_10_90=told(0.0088),
    dead_time=Estimate.at_most("q", 0.0001, unit="s"), smoothing_delay=told(0.004), mean_delay=told(0.004),
    settled_fraction=told(0.98, "fraction"), model="one_pole", saturated=True, n_edges=3,
)  # fmt: skip
BENCH = BenchResult(
    capture=Capture(t_s=np.arange(3.0), interval_s=4e-5, channels=(Channel(name="out", values=np.zeros(3), unit="V"),),
                    provenance=Provenance(path="step.csv", facts={"averaging": "16"}), understood={"time": "column t"}),
    drive_name=None, output_name="out", drive_transition=None, drive_swing=None, drive_kind="", rising=SIDE,
    falling=None, asymmetry=NOTHING, update_interval=NOTHING, noise=told(0.002, "V"),
    swing=Estimate.at_least("q", 1.4, unit="V"),
)  # fmt: skip


def test_a_capture_in_words() -> None:
    text = bench_text([BENCH])
    assert text.startswith("step.csv: the output rises with a time constant of 4.00 ms (3.80 to 4.20).\n")
    read = "How the file was read\n  step.csv (3 samples, every 40 us)\n  time: column t\n  scope averaging: 16"
    assert text.endswith(read), "what is understood comes last"
    assert "none in the capture: edges are taken as steps" in text
    assert line_of(text, "rising (out)") == "rising (out)"
    assert line_of(text, "time constant") == "time constant 4.00 ms (3.80 to 4.20)"
    assert line_of(text, "dead time") == "dead time at most 0.100 ms"
    assert line_of(text, "settled") == "settled 98.00 %"
    assert line_of(text, "model") == "model one pole, saturated"
    assert line_of(text, "swing") == "swing at least 1.40 V"
    assert line_of(text, "falling / rising") == "falling / rising not resolved [1]"
    assert "What this suggests" not in text


def test_json_of_a_capture_has_null_where_there_is_nothing() -> None:
    document = json.loads(bench_json([BENCH]))
    assert (document["drive"], document["falling"], document["source"]["drive"]) == (None, None, None)
    assert document["source"]["sample_interval_s"] == 4e-5
    assert document["swing"]["low"] == 1.4
    assert document["rising"]["saturated"] is True


SESSION = SessionOnShelf(
    folder=Path("sessions/elm_1"), specimen="elm", state="as_found", operator="Mo", script="quick", source="gamepad",
    started="2026-11-20", recording="complete",
)  # fmt: skip


@pytest.mark.parametrize(
    ("more", "condition", "advice"),
    [
        ({}, "complete", ""),
        ({"recording": "interrupted"}, "left unfinished", "--resume sessions/elm_1"),
        ({"recording": "recording", "running": True}, "being written", ""),
        ({"recording": "interrupted", "simulated": True}, "left unfinished, simulated", "--close sessions/elm_1"),
        ({"recording": "closed"}, "closed", ""),
    ],
)
def test_a_shelf_says_what_can_be_done_about_what_was_left(more: dict[str, Any], condition: str, advice: str) -> None:
    session = replace(SESSION, **more)
    text = sessions_text([session])
    assert line_of(text, "sessions/elm_1").endswith(condition)
    assert ("feelcheck log --resume" in text) == session.resumable
    assert advice in text
    (told_as,) = json.loads(sessions_json([session]))["sessions"]
    assert (told_as["path"], told_as["unfinished"]) == ("sessions/elm_1", session.unfinished)


def test_an_empty_shelf_says_how_to_fill_it() -> None:
    assert "feelcheck log SPECIMEN" in sessions_text([])


def test_two_sessions_are_set_side_by_side_without_a_verdict() -> None:
    change = QuickChange(
        axis="left_x", direction="rising", before=told(0.009), now=told(0.005), difference=told(-0.004, u=0.0002)
    )
    text = answer_text([change])
    assert line_of(text, "left_x") == "left_x rising 9.000 ms 5.000 ms -4.00 ms (-4.39 to -3.61)"
    assert "these two sessions only" in " ".join(text.split())
    assert "different" not in text
    assert "feelcheck analyze" in answer_text([])


PAD = DeviceReport(
    name="loaner 7", source="evdev", backends=("evdev", "SDL system"), path="/dev/input/event7", guid="03",
    axes=(AxisReport(name="x", minimum=-128, maximum=127, n_changes=0, lowest=None, highest=None, native_step=NOTHING),
          AxisReport(name="y", minimum=0, maximum=255, n_changes=9, lowest=3, highest=250, native_step=told(2.0, ""))),
    buttons=("a", "b"), report_interval=NOTHING, clock="kernel", limits=(FEW,),
)  # fmt: skip


def test_a_pad_in_words_and_numbers() -> None:
    text = devices_text([PAD, PAD])
    assert text.splitlines()[0] == "0  loaner 7"
    assert "\n\n1  loaner 7\n" in text
    assert "seen by evdev and SDL system" in text
    assert "not resolved (two flicks only)" in text
    assert line_of(devices_text([PAD]), "x ") == "x -128 to 127 0"
    assert line_of(devices_text([PAD]), "y ").startswith("y 0 to 255 9 3 to 250 2")
    (pad,) = json.loads(devices_json([PAD]))["devices"]
    assert (pad["axes"][0]["seen"], pad["axes"][1]["range"], pad["buttons"]) == ([None, None], [0, 255], ["a", "b"])


def test_a_gauge_study_in_words_and_numbers() -> None:
    study = repeatability_of(np.array([[[1.0, 3], [5, 7]], [[3, 5], [7, 9]]]) / 1e3, metric="smoothing_delay", unit="s")
    text = repeatability_text(study)
    # One degree of freedom: u = sd / sqrt(2), and a positive interval for what can only be positive.
    assert line_of(text, "the specimens ") == "the specimens the specimen 2.8 ms (0.7 to 11.0) 70.4 % 2.8 ms"
    assert text.startswith("Most of what differs (70 % of the variance) is the specimens themselves.")
    assert "into 2 classes." in " ".join(text.split())
    document = json.loads(repeatability_json(study))
    assert document["schema"].startswith("feelcheck.")
    flat = repeatability_of(np.full((2, 2, 2), 5.0), metric="m", unit="s")
    assert "into 1 class." in " ".join(repeatability_text(flat).split())
    perfect = repeatability_of(np.broadcast_to(np.array([1.0, 2.0])[None, :, None], (2, 2, 2)), metric="m", unit="s")
    json.loads(repeatability_json(perfect))


@pytest.mark.parametrize(
    ("name", "command"), [("hand", "feelcheck log"), ("lag", "feelcheck analyze"), ("bench", "feelcheck bench")]
)
def test_guides_name_the_command_they_lead_to(name: str, command: str) -> None:
    assert command in guide_text(name)


def test_other_guides_are_refused() -> None:
    with pytest.raises(FeelcheckError, match=r"(?s)no guide.*got: knitting.*allowed: hand, lag, bench"):
        guide_text("knitting")


@pytest.mark.parametrize(
    ("estimate", "brief"),
    [
        (told(0.0101, u=0.0004), "10.10 ms (9.32 to 10.88)"),
        (told(1.00000023e-3, u=2e-9), "1.000 ms"),
        (told(0.0, "deg"), "0 deg"),
        (told(0.5, "fraction"), "50.00 %"),
        (Estimate.at_most("q", 0.001, unit="s"), "at most 1.00 ms"),
        (NOTHING, "not resolved"),
    ],
)
def test_brief_numbers(estimate: Estimate, brief: str) -> None:
    assert format_brief(estimate) == brief


@pytest.mark.parametrize(
    ("value", "margin", "words"),
    [(-1.6e-5, 2.12, "0.000 V"), (-1.6e-5, 2e-4, "-0.000016 V (-0.000049 to 0.000017)"), (1.0, 0.0, "1.000 V")],
)
def test_a_difference_has_no_digits_finer_than_a_thousandth_of_its_margin(
    value: float, margin: float, words: str
) -> None:
    assert format_difference(Estimate.measured("d", value, u=1.7e-5, unit="V"), margin) == words


def test_a_number_without_uncertainty_has_no_interval() -> None:
    assert format_interval(told(1.0)) == ""
    assert format_interval(NOTHING) == ""
    assert format_estimate(told(1.0, u=0.1), interval=False) == "1000 ms"


@pytest.mark.parametrize(
    ("provenance", "name"),
    [(PROVENANCE, "elm"), (Provenance(path="a/b/c.csv"), "c.csv"), (Provenance(), "capture")],
)
def test_a_recording_is_called_by_its_specimen_else_by_its_file(provenance: Provenance, name: str) -> None:
    assert name_of(provenance, "capture") == name


@settings(max_examples=50)
@given(n=st.integers(0, 500), columns=st.integers(1, 60), seed=st.integers(0, 99))
def test_a_thinned_trace_keeps_its_extremes_and_its_order(n: int, columns: int, seed: int) -> None:
    y = np.random.default_rng(seed).standard_normal(n)
    t, thin = envelope(np.arange(float(n)), y, columns)
    assert t.size == thin.size <= max(2 * columns, 0)
    assert np.all(np.diff(t) >= 0)
    if n:
        assert (thin.min(), thin.max()) == (y.min(), y.max())


@given(n=st.integers(0, 200), most=st.integers(2, 50))
def test_picked_rows_are_spread_from_end_to_end(n: int, most: int) -> None:
    found = evenly(n, most)
    assert found.size == min(n, most)
    assert n == 0 or (found[0], found[-1]) == (0, n - 1)
    assert found.size < 3 or np.ptp(np.diff(found)) <= 1


@pytest.mark.parametrize("suffix", [".png", ".svg", ".SVG"])
def test_the_same_figure_gives_the_same_bytes(suffix: str, tmp_path: Path) -> None:
    figure = Figure(figsize=(2, 1))
    figure.subplots().plot([0, 1], [0, 1])
    pictures = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for picture in pictures:
        save_figure(figure, picture, BENCH_FIGURE)
    assert pictures[0].read_bytes() == pictures[1].read_bytes()


def test_a_figure_in_a_page_has_its_own_names_and_says_what_it_shows() -> None:
    drawn = sheet([Panel(draw=lambda ax: ax.plot([0, 1], [0, 1]), description="A line.")])
    element = svg_element(drawn, "fig1", "A < B", "Two & two")
    assert element.startswith("<svg")
    assert '<title id="fig1-title">A &lt; B</title><desc id="fig1-desc">Two &amp; two</desc>' in element
    assert 'id="fig1-' in element
    assert "<metadata" not in element
