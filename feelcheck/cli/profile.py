"""`feelcheck profile`: make a specimen's record, add to it, show it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import WritesInto

__all__ = ["app"]

HELP = """Make a specimen's record, add to it, show it.

Example: feelcheck profile new alder

Next: feelcheck compare, once a record has three sessions.
"""
app = typer.Typer(help=HELP, no_args_is_help=True, rich_markup_mode=None)

ProfilePath = Annotated[Path, typer.Argument(help="The specimen's record (a .toml file).")]


@app.command()
@reports_errors
def new(
    specimen: Annotated[str, typer.Argument(help="Name of the specimen; also the name of its file.")],
    folder: Annotated[Path, WritesInto({}), typer.Option(help="Where records are kept.")] = Path("profiles"),
    pad: Annotated[str, typer.Option(help="Label of the pad it belongs to.")] = "",
    stick: Annotated[str, typer.Option(help="Which stick: left or right.")] = "",
    kind: Annotated[str, typer.Option(help="Kind of sensor: hall, other magnetic, potentiometer.")] = "",
) -> None:
    """Make a new record.

    Example: feelcheck profile new alder --pad "loaner 7" --stick left

    Next: feelcheck profile part and feelcheck profile add.
    """
    from feelcheck import pipeline

    typer.echo(str(pipeline.new_profile(specimen, folder, pad=pad, stick=stick, kind=kind)))


@app.command()
@reports_errors
def add(
    profile: ProfilePath,
    paths: Annotated[list[Path], typer.Argument(help="Hand sessions or logs; with --axis scope captures.")],
    axis: Annotated[str, typer.Option(help="Axis that the scope captures belong to; makes this a bench result.")] = "",
    state: Annotated[
        str, typer.Option(help="State of the specimen; else what the session says, as_found for a capture.")
    ] = "",
    mounting: Annotated[int | None, typer.Option(help="Number of the mounting: one more each reassembly.")] = None,
    operator: Annotated[str, typer.Option(help="Who held it.")] = "",
    polarity: Annotated[
        int | None,
        typer.Option(help="With --axis: 1 if the code rises with the volts, -1 if against them.", min=-1, max=1),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Take a session that names another specimen.")] = False,
    drive: Annotated[str | None, typer.Option(help="With --axis: column of the drive.")] = None,
    output: Annotated[str | None, typer.Option(help="With --axis: column of the sensor's output.")] = None,
    time: Annotated[str | None, typer.Option(help="With --axis: column of the time.")] = None,
    time_unit: Annotated[str | None, typer.Option(help="With --axis: unit of the time column.")] = None,
    interval: Annotated[str | None, typer.Option(help="With --axis: sample interval, such as 4us, or a rate.")] = None,
    drive_rise: Annotated[
        str | None, typer.Option(help="With --axis: 10 to 90 % of a drive that was not captured, such as 2.5ms.")
    ] = None,
) -> None:
    """Measure sessions or captures and add the results to a record.

    Example: feelcheck profile add profiles/alder.toml sessions/alder_as_found_1 --mounting 1

    Example: feelcheck profile add profiles/birch.toml birch_field_step.csv --axis left_x --polarity 1

    Next: feelcheck compare.
    """
    from feelcheck import pipeline

    pipeline.check_additions(profile, paths, axis=axis, force=force)
    from feelcheck.renderers.profile_text import added_text

    if axis:
        added = pipeline.add_capture(
            profile, paths, axis=axis, state=state, polarity=polarity, drive=drive, output=output, time=time,
            time_unit=time_unit, interval=interval, drive_rise=drive_rise,
        )  # fmt: skip
        typer.echo(added_text(added))
        remark(f"{profile}: added a bench result of {axis}, state {added.state}")
        return
    for path in paths:
        remark(f"measuring {path}")
        record = pipeline.add_session(profile, path, state=state, mounting=mounting, operator=operator, force=force)
        typer.echo(added_text(record))
        remark(f"{profile}: added the session {record.session}, state {record.state}")


@app.command()
@reports_errors
def part(
    profile: ProfilePath,
    position: Annotated[str, typer.Argument(help="Name of the place on the board, such as c3.")],
    value: Annotated[str, typer.Argument(help="Value, such as 4.7k or 560n.")],
    role: Annotated[
        str, typer.Option(help="pin_capacitor, series_resistor, capacitor, load, supply_capacitor, other.")
    ],
    axis: Annotated[str, typer.Option(help="Axis whose network it belongs to.")] = "",
    measured: Annotated[str, typer.Option(help="marked, in_circuit, out_of_circuit or assumed.")] = "marked",
    tolerance_percent: Annotated[float | None, typer.Option(help="Half-width of the tolerance, %.", min=0.0)] = None,
    size_code: Annotated[str, typer.Option(help="Case size, such as 0402.")] = "",
    dielectric: Annotated[str, typer.Option(help="Class of a capacitor, such as X7R.")] = "",
) -> None:
    """Note a part found on the sensor board.

    Example: feelcheck profile part profiles/birch.toml c3 1u --role capacitor --axis left_x --size-code 0402

    Next: feelcheck parts, to predict the response from the parts.
    """
    from feelcheck import pipeline

    pipeline.note_part(
        profile,
        pipeline.part_found(
            position,
            value,
            role=role,
            axis=axis,
            measured=measured,
            tolerance_percent=tolerance_percent,
            size_code=size_code,
            dielectric=dielectric,
        ),
    )
    remark(f"{profile}: noted {position} = {value}")


@app.command()
@reports_errors
def state(
    profile: ProfilePath,
    name: Annotated[str, typer.Argument(help="Name of the state, such as c3_lifted or sham.")],
    change: Annotated[list[str] | None, typer.Option(help="A changed part, such as c3=lifted or r2=2.2k.")] = None,
    note: Annotated[str, typer.Option(help="What was done.")] = "",
    undone: Annotated[bool, typer.Option("--undone", help="The step was taken back.")] = False,
) -> None:
    """Note a step of the specimen's timeline.

    Example: feelcheck profile state profiles/birch.toml c3_lifted --change c3=lifted

    Next: feelcheck log and feelcheck profile add, in the new state.
    """
    from feelcheck import pipeline

    pipeline.note_state(profile, pipeline.state_step(name, change or [], note=note, undone=undone))
    remark(f"{profile}: noted the state {name}")


@app.command()
@reports_errors
def show(
    profile: ProfilePath,
    json: Json = False,
) -> None:
    """Show a record: parts, states, bench results, hand sessions.

    Example: feelcheck profile show profiles/birch.toml

    Next: feelcheck feel or feelcheck report, for what it means in use.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.profile_text import profile_json, profile_text

    found = pipeline.read_profile(profile)
    typer.echo(profile_json(found) if json else profile_text(found))
