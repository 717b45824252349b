"""Keys, buttons and the stick itself as controls; every one can be given another place."""

from __future__ import annotations

from collections.abc import Mapping

from feelcheck.errors import FormatError
from feelcheck.rehearsal.aiming import Place
from feelcheck.rehearsal.view import Command

__all__ = ["Controls", "controls_from"]

KEYS = {
    "space": Command.GO,
    "return": Command.GO,
    "left": Command.FIRST,
    "1": Command.FIRST,
    "right": Command.SECOND,
    "2": Command.SECOND,
    "p": Command.PAUSE,
    "escape": Command.END,
}
HOLD_S = 0.7
FAR, HOME = 0.6, 0.3


class Controls:
    """Which key and which button of the pad does what.

    Parameters
    ----------
    keys, buttons : Mapping[str, Command]
        By the key's name and by the button's name in the events; a button that is not among them goes on.

    Notes
    -----
    A question can also be answered by holding the stick to the left or to the right, so no pad needs two buttons that
    are known. The stick must have been home since the question came.
    """

    def __init__(self, keys: Mapping[str, Command], buttons: Mapping[str, Command]) -> None:
        self.keys, self.buttons = dict(keys), dict(buttons)
        self._side, self._since_s, self._home = "", 0.0, False

    def button(self, name: str, value: int) -> Command | None:
        """Return what a button row asks for; letting go asks for nothing.

        Parameters
        ----------
        name : str
            The button's, as in the events.
        value : int
            1 pressed, 0 let go.
        """
        return self.buttons.get(name, Command.GO) if value else None

    def asked(self) -> None:
        """Take note that a question came."""
        self._side, self._home = "", False

    def held(self, stick: Place, now_s: float) -> tuple[tuple[str, float] | None, Command | None]:
        """Return the side to which the stick is held with the share of the time that is over, and the answer.

        Parameters
        ----------
        stick : (float, float)
            Where it is: right and up positive, fractions of throw.
        now_s : float, s
            The present instant.
        """
        x, y = stick
        if not self._home:
            self._home = max(abs(x), abs(y)) < HOME
            return None, None
        side = "" if abs(x) < FAR or abs(y) > abs(x) else ("left" if x < 0 else "right")
        if side != self._side:
            self._side, self._since_s = side, now_s
        if not side:
            return None, None
        share = min(1.0, (now_s - self._since_s) / HOLD_S)
        if share >= 1.0:
            self.asked()
            return None, Command.FIRST if side == "left" else Command.SECOND
        return (side, share), None

    def legend(self) -> tuple[tuple[str, str], ...]:
        """Return the keys and buttons of each command in words."""
        words = {Command.GO: "go on", Command.PAUSE: "pause", Command.END: "end here"}
        found = []
        for command, what in words.items():
            places = [name.capitalize() for name, does in self.keys.items() if does is command][:1]
            places += [name.replace("_", " ") for name, does in self.buttons.items() if does is command][:1]
            if command is Command.GO and not any(does is command for does in self.buttons.values()):
                places.append("any pad button")
            found.append((", ".join(places), what))
        return tuple(found)


def controls_from(wishes: list[str]) -> Controls:
    """Return controls with wishes such as ``first=button_3`` or ``go=key:g``.

    Parameters
    ----------
    wishes : list of str
        Action and button or key of each.

    Raises
    ------
    FormatError
        If a wish names no command or no place.

    Examples
    --------
    >>> controls_from(["first=key:f"]).keys["f"]
    <Command.FIRST: 'first'>
    """
    keys, buttons = dict(KEYS), dict[str, Command]()
    for wish in wishes:
        word, equals, place = wish.partition("=")
        if word not in tuple(Command) or not equals or not place:
            raise FormatError(
                "A control is wished as COMMAND=BUTTON or COMMAND=key:NAME.",
                {"got": wish, "commands": ", ".join(Command)},
                "Write for example --control first=button_3 --control go=key:g.",
            )
        kind, colon, name = place.partition(":")
        if kind == "key" and colon and name:
            keys = {key: does for key, does in keys.items() if key != name.lower()}
            keys = {name.lower(): Command(word), **keys}
        else:
            buttons[place] = Command(word)
    return Controls(keys, buttons)
