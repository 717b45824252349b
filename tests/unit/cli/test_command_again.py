"""The command on a picture makes that picture again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.cli._pictures import command_again
from feelcheck.testing.at_bench import BenchSetup, take_capture
from feelcheck.testing.at_bench.setup import Linear

probe = typer.Typer()


@probe.command(name="try")
def tried(
    context: typer.Context,
    first: str,
    others: Annotated[list[str] | None, typer.Argument()] = None,
    margin_ms: Annotated[float, typer.Option()] = 1.0,
    paired: Annotated[tuple[str, str] | None, typer.Option()] = None,
    scope: Annotated[list[str] | None, typer.Option()] = None,
    strict: Annotated[bool, typer.Option("--strict")] = False,
    json: Annotated[bool, typer.Option("--json")] = False,
) -> None:
    """Say what was asked for."""
    typer.echo(command_again(context))


def again(*words: str) -> str:
    done = CliRunner().invoke(probe, list(words))
    assert done.exit_code == 0, done.output
    return done.output.strip()


def test_what_was_asked_for_stands_in_the_command() -> None:
    assert again("alder.toml") == "feelcheck try alder.toml"
    words = ["a b.toml", "birch.toml", "--margin-ms", "2.5", "--paired", "as_found", "lifted", "--scope", "supply=1.8V",
             "--scope", "x=1", "--strict"]  # fmt: skip
    said = again(*words, "--json")
    assert said == "feelcheck try 'a b.toml' birch.toml " + " ".join(words[2:])


def test_the_card_of_a_capture_names_the_column_that_was_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import numpy as np
    import pandas as pd

    capture = take_capture(BenchSetup(stages=(Linear.pole(2e-3),)), np.random.default_rng(4)).capture
    columns = {f"{channel.name} ({channel.unit})": channel.values for channel in capture.channels}
    monkeypatch.chdir(tmp_path)  # a long path would wrap the command inside the option
    path, card = Path("alder.csv"), Path("card.svg")
    pd.DataFrame({"Time (s)": capture.t_s, **columns}).to_csv(path, index=False, float_format="%.6g")
    done = CliRunner().invoke(app, ["bench", str(path), "--drive", "none", "--card", str(card)])
    assert done.exit_code == 0, done.output
    assert "--drive none" in card.read_text(encoding="utf-8")
