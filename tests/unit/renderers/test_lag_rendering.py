"""The lag in JSON, in words, in panels and in the guide."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.errors import FeelcheckError
from feelcheck.model import Caveat, CoupledAxis, CoupledLag, Estimate, LagResult, MarkerLag, Trace
from feelcheck.renderers._drawn import drawn
from feelcheck.renderers._json import encoded
from feelcheck.renderers._panels import sheet
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers.guide import guide_text
from feelcheck.renderers.hand_figures import lag_panels
from feelcheck.renderers.hand_json import swapped_object
from feelcheck.renderers.hand_text import lag_text, swapped_text

NOTHING = Estimate.not_present("delay", unit="s")


def delay(value_s: float) -> Estimate:
    caveat = Caveat(code="less_button_delay", text="The button's own delay is taken off.", advice="Measure it.")
    return Estimate.measured("delay", value_s, u=0.0001, unit="s", n=16, dof=15.0, caveats=(caveat,))


MARKER = MarkerLag(
    delay=delay(0.0042),
    onset_delay=delay(-0.0008),
    directions={("left_x", "rising"): delay(0.0041)},
    button="rim",
    stick="left",
)
AXIS = CoupledAxis(
    first="left_x",
    second="right_x",
    delay=delay(0.005),
    rising=delay(0.0051),
    falling=delay(0.0049),
    smoothing=delay(0.0048),
    gain=Estimate.measured("gain", 1.01, u=0.002, unit="ratio", n=16),
    play=Estimate.at_most("play", 0.004, unit="fraction"),
)
COUPLED = CoupledLag(delay=delay(0.005), axes={"x": AXIS}, first="left", second="right")


def test_json_holds_every_estimate_in_ms() -> None:
    found = encoded(LagResult(marker=MARKER, coupled=COUPLED))
    assert found["marker"]["button"] == "rim"
    assert found["marker"]["axes"]["left_x"]["rising"]["value"] == pytest.approx(4.1)
    axis = found["coupled"]["axes"]["x"]
    assert axis["delay"]["value"] == pytest.approx(5.0)
    assert (axis["gain"]["unit"], axis["play"]["status"]) == ("ratio", "at_most")


def test_json_says_not_present_where_there_is_neither() -> None:
    nothing = LagResult(marker=MarkerLag(delay=NOTHING, onset_delay=NOTHING), coupled=CoupledLag(delay=NOTHING))
    found = encoded(nothing)
    assert found["marker"]["delay"]["status"] == found["coupled"]["delay"]["status"] == "not_present"
    assert found["marker"]["button"] is None
    assert lag_text(nothing, Remarks()) == ""


def test_the_text_names_button_sticks_and_remark() -> None:
    remarks = Remarks()
    text = lag_text(LagResult(marker=MARKER, coupled=COUPLED), remarks)
    assert "Delay behind the button rim, 16 events" in text
    assert "4.20 ms" in text
    assert "Tied sticks: right behind left" in text
    assert "at most 0.400 %" in text
    assert "Measure it." in remarks.text()


def test_a_loose_tie_is_told() -> None:
    loose = Estimate.not_resolved("delay", unit="s", caveats=(Caveat(code="sticks_not_tied", text="Not tied."),))
    lag = LagResult(marker=MarkerLag(delay=NOTHING, onset_delay=NOTHING), coupled=CoupledLag(delay=loose))
    assert "not resolved" in lag_text(lag, Remarks())


def test_swapped_ports_have_their_own_table_and_key() -> None:
    assert "scan order taken off" in swapped_text(delay(0.005), delay(0.0002))
    assert swapped_object(delay(0.005), delay(0.0002))["coupled_swapped"]["port_delay"]["value"] == pytest.approx(0.2)


def test_panels_say_later_or_earlier() -> None:
    t_s = np.linspace(-0.05, 0.1, 151)
    tied = Trace(
        kind="coupled",
        axis="right_x",
        arrays={
            "t_s": t_s,
            "first_fs": t_s,
            "second_fs": t_s,
            "pace_s": np.array([0.05, 0.1]),
            "lag_s": np.array([-0.002, -0.002]),
            "sign": np.array([1, -1]),
        },
        marks={"delay_s": -0.002},
        labels={"first": "left_x", "second": "right_x"},
    )
    arrays = {"t_s": t_s, "flicks_fs": np.stack([t_s, t_s]), "onset_s": np.array([0.001, 0.002])}
    marker = Trace(kind="marker", axis="left_x", arrays=arrays, labels={"button": "rim"})
    panels = lag_panels((tied, marker))
    assert [panel.description for panel in panels][1].endswith("right_x earlier by 2.00 ms.")
    assert "1.50 ms" in panels[0].description
    figure = drawn(sheet(panels))
    assert figure.axes[0].get_title(loc="left") == "left_x, behind rim"
    assert lag_panels(()) == []


def test_the_guide_draws_both_set_ups() -> None:
    text = guide_text("lag")
    assert "(o)===============(o)" in text
    assert "--script marker" in text
    assert "--state ports_swapped" in text
    with pytest.raises(FeelcheckError, match="no guide"):
        guide_text("knitting")
