"""Parts that can't be are refused with one message that guesses the missing prefix or the swapped kind."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.errors import FormatError
from feelcheck.model.parts import BoardNetwork
from feelcheck.network import check_settles
from feelcheck.numerics.si_values import PartUnit, component_value

RECORD = Path(__file__).parents[2] / "golden" / "inputs" / "alder.toml"


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("4.7k", "ohm", 4700.0), ("4k7", "ohm", 4700.0), ("0.1", "ohm", 0.1), ("470", "ohm", 470.0), ("10M", "ohm", 1e7),
     ("1u", "F", 1e-6), ("560n", "F", 5.6e-7), ("1µ", "F", 1e-6), ("22p", "F", 2.2e-11), ("1e-6", "F", 1e-6),
     ("1000uF", "F", 1e-3), ("20u", "A", 2e-5), ("4.7 kohm", "ohm", 4700.0)],
)  # fmt: skip
def test_what_sits_on_boards_is_taken(text: str, unit: PartUnit, value: float) -> None:
    assert component_value(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit", "sentence", "advice"),
    [
        ("1", "F", "1 F is no capacitor", "Write 1n or 1u"),
        ("100", "F", "100 F is no capacitor", "Write 100n or 100u"),
        ("1F", "F", "1F is no capacitor", "Write 1n or 1u"),
        ("4k7", "F", "4k7 is the value of a resistor, not of a capacitor", "Were the two swapped"),
        ("4.7 kohm", "F", "is the value of a resistor", "like 560n"),
        ("1u", "ohm", "1u is the value of a capacitor, not of a resistor", "Were the two swapped"),
        ("100nF", "ohm", "is the value of a capacitor", "like 4.7k"),
        ("4.7m", "ohm", "4.7m is no resistor", "Write 4.7 or 4.7k"),
        ("1e300", "ohm", "1e300 is no resistor", "if that is meant"),
        ("1e-320", "F", "1e-320 is no capacitor", "if that is meant"),
        ("20", "A", "20 A is no current", "Write 20u or 20m"),
        ("9" * 400, "F", "A part needs a value", "Write a capacitor like 560n"),
        ("0." + "0" * 398 + "1", "F", "A part needs a value", "Write a capacitor like 560n"),
        ("many", "ohm", "A part needs a value such as 4.7k or 560n", "Write a resistor like 4.7k"),
        ("-1u", "F", "A part needs a value", "like 560n"),
        ("", "F", "A part needs a value", "like 560n"),
    ],
)
def test_what_cannot_be_is_refused_with_a_guess(text: str, unit: PartUnit, sentence: str, advice: str) -> None:
    with pytest.raises(FormatError) as caught:
        component_value(text, unit)
    assert sentence in caught.value.sentence
    assert advice in caught.value.next_step
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("parts --resistor 4.7k --capacitor 1", "1 F is no capacitor"),
        ("parts --resistor 4.7k", "A resistor alone delays nothing"),
        ("parts --capacitor 1u", "A capacitor alone delays nothing"),
        ("parts --resistor 1u --capacitor 4.7k", "swapped"),
        ("parts --resistor 4.7k --capacitor 1u --what-if capacitor=100", "100 F is no capacitor"),
        ("parts --resistor 4.7k --capacitor 1u --what-if capacitor=4k7", "is the value of a resistor"),
        ("parts --resistor 100M --capacitor 10m", "These parts delay by 1e+06 s"),
        ("parts --resistor 4.7k --capacitor 1u --high-v 1e9", "60 at most"),
        ("parts --sink-current 1n --source 100 --pin-capacitor 10m", "These parts delay by"),
        ("profile part alder.toml c9 100 --role capacitor", "100 F is no capacitor"),
        ("profile part alder.toml r9 1u --role series_resistor", "is the value of a capacitor"),
        ("profile state alder.toml odd --change PLACE=100", "100 F is no capacitor"),
        ("feel alder.toml@PLACE=100", "100 F is no capacitor"),
        ("feel alder.toml@PLACE=4k7", "is the value of a resistor"),
        ("feel alder.toml@PLACE=1e300", "1e300 is no capacitor"),
        ("compare alder.toml alder.toml@PLACE=100", "100 F is no capacitor"),
        ("compare alder.toml alder.toml --capacitor 1", "1 F is no capacitor"),
    ],
)
def test_every_way_in_refuses_in_one_message(
    words: str, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(RECORD, tmp_path / "alder.toml")
    before = (tmp_path / "alder.toml").read_bytes()
    place = next(line.split('"')[1] for line in before.decode().splitlines()
                 if line.startswith("position") and '"c' in line)  # fmt: skip
    found = CliRunner().invoke(app, words.replace("PLACE", place).split())
    assert (found.exit_code, found.stdout) == (2, ""), found.output
    assert message in " ".join(found.stderr.split())
    assert len(found.stderr) < 700
    assert (tmp_path / "alder.toml").read_bytes() == before


def test_a_record_that_holds_such_a_part_is_refused_by_its_place(tmp_path: Path) -> None:
    text = RECORD.read_text().replace('value = "1u"', "value = 1.0")
    assert "value = 1.0" in text
    (tmp_path / "alder.toml").write_text(text)
    found = CliRunner().invoke(app, ["profile", "show", str(tmp_path / "alder.toml")])
    assert (found.exit_code, "is no capacitor" in found.stderr, "position: c" in found.stderr) == (2, True, True)


def test_slow_but_possible_parts_are_taken() -> None:
    check_settles(BoardNetwork(series_ohm=1e6, behind_f=1e-6))
    with pytest.raises(FormatError, match=r"(?s)delay by 100 s.*series resistor: 10 Mohm.*wrong prefix"):
        check_settles(BoardNetwork(series_ohm=1e7, behind_f=1e-5))
