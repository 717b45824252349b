"""What a population says, in words: used by the text and the page of a survey."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.counted import counted
from feelcheck.model import Placement, Population, PopulationQuantity, StickPair, SurveyResult, ToleranceLimits
from feelcheck.model.quantities import words_of
from feelcheck.renderers._format import decimals_for, format_number

__all__ = [
    "bare_words",
    "counts_sentence",
    "limits_words",
    "number_words",
    "pair_words",
    "placed_text",
    "quantity_words",
    "unfinished_rows",
    "unmeasured_rows",
]

KINDS = ("session", "log", "capture")
SHAPES = {"normal": "normal", "log_normal": "normal in its logarithm", "distribution_free": "no shape assumed"}
_HIGHER = {"smoothing_delay": "slower", "rest_noise": "noisier", "update_interval": "refreshed less often"}
_SHARES = {"fraction": ("%", 100.0), "ratio": ("", 1.0)}


def number_words(value: float | None, unit: str, u: float = 0.0) -> str:
    """Return a number with its unit; fractions in per cent, digits led by `u` or four in all.

    Parameters
    ----------
    value : float or None
        The number; None where it is not known.
    unit : str
        Unit of the number.
    u : float
        Standard uncertainty, in the unit.

    Examples
    --------
    >>> number_words(9.1234567, "ms", 0.05), number_words(0.0213, "fraction")
    ('9.123 ms', '2.130 %')
    """
    if value is None:
        return ""
    unit, factor = _SHARES.get(unit, (unit, 1.0))
    return f"{format_number(value * factor, decimals_for(u * factor, value * factor))} {unit}".strip()


def quantity_words(of: PopulationQuantity) -> str:
    """Return what a population is of: ``"smoothing delay, falling (hand, as found)"``.

    Parameters
    ----------
    of : PopulationQuantity
        One quantity of the population.
    """
    name = bare_words(of) + (f", {of.direction}" if of.direction else "")
    return f"{name} ({', '.join(filter(None, (of.group, of.state.replace('_', ' '))))})"


def bare_words(of: PopulationQuantity) -> str:
    """Return the quantity of a population alone, as results of its kind call it: ``"smoothing delay"``.

    Parameters
    ----------
    of : PopulationQuantity
        One quantity of the population.
    """
    return words_of(of.quantity, f"{of.group} direction", of.group, f"{of.group} axis")


def limits_words(limits: ToleranceLimits, unit: str) -> str:
    """Return tolerance limits in words: ``"90 % lie below 12.1 ms"``.

    Parameters
    ----------
    limits : ToleranceLimits
        Limits of a population.
    unit : str
        Unit of the number.
    """
    share = f"{100 * limits.share:g} %"
    if limits.low is None:
        return f"{share} lie below {number_words(limits.high, unit)}"
    return f"{share} lie between {number_words(limits.low, unit)} and {number_words(limits.high, unit)}"


def counts_sentence(result: SurveyResult) -> str:
    """Return how many files of which kind there are, and how many could not be measured.

    Parameters
    ----------
    result : SurveyResult
        What the command gives.
    """
    paths = {row["path"]: row for row in result.rows}
    kinds = [str(row["kind"]) for row in paths.values()]
    told = [f"{kinds.count(kind)} {kind}{'s' * (kinds.count(kind) != 1)}" for kind in KINDS]
    failed = sum(bool(row["reason"]) for row in paths.values())
    words = [f"{', '.join(told)}: {result.n_measured} measured now, {result.n_unchanged} unchanged since before"]
    words += [f"{failed} could not be measured"] if failed else []
    words += [f"{result.n_left} not looked at yet (broken off: the same command goes on)"] if result.n_left else []
    words += [f"{result.others} other file{'s' * (result.others != 1)} passed over"] if result.others else []
    return "; ".join(words) + "."


def unmeasured_rows(result: SurveyResult) -> list[tuple[str, str, str]]:
    """Return path, kind and reason of every file that could not be measured.

    Parameters
    ----------
    result : SurveyResult
        What the command gives.
    """
    return [(str(row["path"]), str(row["kind"]), str(row["reason"])) for row in result.rows if row["reason"]]


def unfinished_rows(result: SurveyResult) -> list[tuple[str, str]]:
    """Return path and specimen of every session that was broken off.

    Parameters
    ----------
    result : SurveyResult
        What the command gives.
    """
    found = {str(row["path"]): str(row["specimen"]) for row in result.rows if row["complete"] is False}
    return sorted(found.items())


def pair_words(pair: StickPair) -> str:
    """Return how far two sticks are apart: ``"0.12 ms (left_x falling), as good as equal"``.

    Parameters
    ----------
    pair : StickPair
        Two sticks.
    """
    words = f"{number_words(pair.difference, pair.unit, pair.u)} ({pair.at})"
    return f"{words}, within what one measurement scatters" if pair.difference < 2 * pair.u else words


def placed_text(table: object, placements: Sequence[Placement]) -> str:
    """Return where new results lie: ``"alder, falling: slower than 87 % (79 to 93) of your 412 sticks"``.

    Parameters
    ----------
    table : Path or str
        What they are held against.
    placements : sequence of Placement
        May be empty.
    """
    none = "The table holds fewer than five like sticks (same kind, state and quantity), so nothing is said."
    told = [
        f"{_subject(one)}: {_higher(one)} than {_share(one)} of your {counted(one.n, 'stick')}" for one in placements
    ]
    return "\n  ".join([f"\nAmong the sticks of {table}", *(told or [none])])


def _subject(one: Placement) -> str:
    words = f"{one.name}, {one.direction}" if one.direction else one.name
    return words if one.quantity in _HIGHER else f"{words}, {one.quantity.replace('_', ' ')}"


def _higher(one: Placement) -> str:
    return _HIGHER.get(one.quantity, "higher")


def _share(one: Placement) -> str:
    low, share, high = (f"{100 * number:.0f}" for number in (one.low, one.share, one.high))
    return f"{share} % ({low} to {high})"


def left_out_words(population: Population) -> str:
    """Return what is said of simulated sticks and of copies; empty where there are none.

    Parameters
    ----------
    population : Population
        The population.
    """
    told = []
    if population.simulated:
        told.append("All of these sticks are simulated: this says nothing about real ones.")
    elif population.left_out:
        files = counted(population.left_out, "simulated file is", "simulated files are")
        told.append(f"{files} in the table and left out of the population.")
    if population.copies:
        files = counted(
            population.copies, "file is a copy of another and counts", "files are copies of others and count"
        )
        told.append(f"{files} once.")
    return " ".join(told)
