"""What lifting or changing a part would do, before anyone heats an iron."""

from __future__ import annotations

from dataclasses import replace

from feelcheck.model.parts import BoardNetwork, WhatIf
from feelcheck.network.predict import predict
from feelcheck.numerics.si_values import format_si

__all__ = ["CHANGEABLE", "changed_network", "what_if"]

CHANGEABLE = {
    "pin_f": ("capacitor at the pin", "F"),
    "behind_f": ("capacitor behind the resistor", "F"),
    "series_ohm": ("series resistor", "ohm"),
    "load_ohm": ("load", "ohm"),
}


def changed_network(network: BoardNetwork, part: str, value: float | None) -> BoardNetwork:
    """Return the network with one part changed (None: lifted, or bridged where it is the series resistor).

    Parameters
    ----------
    network : BoardNetwork
        The board's parts.
    part : str
        The part that is changed.
    value : float or None
        Its new value, ohm or F; None to take it out.

    Raises
    ------
    KeyError
        If the part is none that can be changed.
    """
    if part not in CHANGEABLE:
        raise KeyError(part)
    bands = {name: band for name, band in network.bands.items() if name != part or value is not None}
    return replace(network, **{part: value if value is not None or part == "load_ohm" else 0.0}, bands=bands)  # type: ignore[arg-type]


def what_if(network: BoardNetwork, part: str, value: float | None, *, class_2: bool = False) -> WhatIf:
    """Predict before and after a change.

    Parameters
    ----------
    network : BoardNetwork
        The board's parts.
    part : str
        The part that is changed.
    value : float or None
        Its new value, ohm or F; None: lifted, or bridged where it is the series resistor.
    class_2 : bool, optional
        Whether capacitors lose capacitance under voltage.

    Examples
    --------
    >>> found = what_if(BoardNetwork(series_ohm=4700.0, behind_f=1e-6), "behind_f", None)
    >>> found.change, found.after.rising.shape
    ('the capacitor behind the resistor is lifted', 'step')
    """
    name, unit = CHANGEABLE[part]
    done = "bridged" if part == "series_ohm" and value is None else "lifted"
    words = f"the {name} is {done}" if value is None else f"the {name} becomes {format_si(value, unit)}"
    return WhatIf(
        before=predict(network, class_2=class_2),
        after=predict(changed_network(network, part, value), class_2=class_2),
        change=words,
    )
