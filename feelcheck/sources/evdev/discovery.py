"""Finding pads among the event devices, the ones that may not be read included."""

from __future__ import annotations

import grp
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from feelcheck.counted import counted
from feelcheck.errors import SourceError
from feelcheck.sources.evdev import ioctls
from feelcheck.sources.evdev.controls import is_pad
from feelcheck.sources.evdev.ioctls import InputId
from feelcheck.sources.evdev.records import EV_ABS, EV_KEY

__all__ = [
    "ACCESS_REMEDY",
    "INPUT_FOLDER",
    "SYSTEM_FOLDER",
    "Node",
    "access_facts",
    "choose",
    "find_pads",
    "fits",
]

INPUT_FOLDER = Path("/dev/input")
SYSTEM_FOLDER = Path("/sys/class/input")
ACCESS_REMEDY = (
    "Join the group that owns it (sudo usermod -aG input YOUR_NAME, then log in again), or give the seat access with a "
    'udev rule (KERNEL=="event*", SUBSYSTEM=="input", ENV{ID_INPUT_JOYSTICK}=="1", TAG+="uaccess"), or work at the '
    "machine's own screen."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One event device that is a pad.

    Parameters
    ----------
    path : Path
        Its device node.
    name, place, serial : str
        What it calls itself, where it is plugged in, its serial text.
    numbers : InputId
        Bus and numbers.
    inode : int
        Number of the node in its file system: tells a device that came back from one that was there all the time.
    readable : bool
        Whether this user may open it.
    """

    path: Path
    name: str
    place: str
    serial: str
    numbers: InputId
    inode: int
    readable: bool = True

    def same_device(self, other: Node) -> bool:
        """Return whether both are the same model with the same serial text.

        Parameters
        ----------
        other : Node
            Found earlier or later, at whatever path.
        """
        return (self.name, self.serial, self.numbers) == (other.name, other.serial, other.numbers)

    @property
    def key(self) -> tuple[str, int]:
        """What tells this node from a later one of the same path."""
        return str(self.path), self.inode


def find_pads(folder: Path = INPUT_FOLDER, system: Path = SYSTEM_FOLDER) -> list[Node]:
    """Return the pads among the event devices, in the order of their numbers.

    Parameters
    ----------
    folder : Path
        Where event devices lie.
    system : Path
        Where the kernel tells of devices.
    """
    found = []
    for path in sorted(folder.glob("event*"), key=lambda path: int(re.sub(r"\D", "", path.name) or 0)):
        try:
            inode = path.stat().st_ino
            node = _asked(path, inode)
        except PermissionError:
            node = _looked_up(path, inode, system / path.name / "device")
        except OSError:
            continue
        if node is not None:
            found.append(node)
    return found


def _asked(path: Path, inode: int) -> Node | None:
    """Return the pad behind a node as the device itself describes it."""
    fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        kinds = [ioctls.read_bits(fd, EV_ABS), ioctls.read_bits(fd, EV_KEY), ioctls.read_properties(fd)]
        if not is_pad(*kinds):
            return None
        name, place, serial = (ioctls.read_text(fd, number) for number in (0x06, 0x07, 0x08))
        return Node(path=path, name=name, place=place, serial=serial, numbers=ioctls.read_id(fd), inode=inode)
    finally:
        os.close(fd)


def _looked_up(path: Path, inode: int, folder: Path) -> Node | None:
    """Return the pad behind a node that may not be opened, as the system's own listing describes it."""

    def text(name: str) -> str:
        try:
            return (folder / name).read_text(encoding="utf-8", errors="replace").strip()
        except OSError:
            return ""

    if not is_pad(*(frozenset(_listed(text(name))) for name in ("capabilities/abs", "capabilities/key", "properties"))):
        return None
    bus, vendor, product, version = (
        int(text(f"id/{part}") or "0", 16) for part in ("bustype", "vendor", "product", "version")
    )
    return Node(
        path=path,
        name=text("name"),
        place=text("phys"),
        serial=text("uniq"),
        numbers=InputId(bus=bus, vendor=vendor, product=product, version=version),
        inode=inode,
        readable=False,
    )


def _listed(words: str) -> Iterator[int]:
    """Yield the bits of a mask as the system lists it: hexadecimal longs, the highest first."""
    width = 64 if sys.maxsize > 2**32 else 32
    for k, word in enumerate(reversed(words.split())):
        mask = int(word, 16)
        yield from (width * k + bit for bit in range(width) if mask >> bit & 1)


def choose(pads: list[Node], device: str, folder: Path = INPUT_FOLDER) -> Node:
    """Return the pad that is meant: by path, by number, by part of its name, or the first that may be read.

    Parameters
    ----------
    pads : list of Node
        Event devices.
    device : str
        Path, number, or part of the name; empty for any.
    folder : Path
        Where event devices lie.

    Raises
    ------
    SourceError
        If there is none, or it may not be read; with what can be done about it.
    """
    fitting = [pad for k, pad in enumerate(pads) if fits(pad, k, device)]
    if not fitting:
        raise SourceError(
            "No pad was found among the event devices." if not pads else "No pad of that name was found.",
            {
                "wanted": device or "any",
                "found": ", ".join(f"{pad.name} ({pad.path})" for pad in pads) or "none",
                "looked at": f"{counted(len(list(folder.glob('event*'))), 'device')} in {folder}",
            },
            "Plug one in: feelcheck devices says what is seen and read; or record with --source gamepad.",
        )
    readable = [pad for pad in fitting if pad.readable]
    if not readable:
        raise SourceError("The pad may not be read by this user.", access_facts(fitting[0]), ACCESS_REMEDY)
    return readable[0]


def fits(pad: Node, number: int, device: str) -> bool:
    """Return whether a pad is the one that is meant: by path, by number, or by part of its name; any if none is.

    Parameters
    ----------
    pad : Node
        An event device.
    number : int
        Its place in the list of pads.
    device : str
        Path, number, or part of the name; empty for any.
    """
    wanted = device.casefold()
    if not wanted or "/" in device:
        return not wanted or pad.path == Path(device).resolve()
    return wanted in pad.name.casefold() or wanted in (str(number), pad.path.name)


def access_facts(pad: Node) -> dict[str, object]:
    """Return who may read a pad's node, for the text of an error.

    Parameters
    ----------
    pad : Node
        An event device.
    """
    facts: dict[str, object] = {"pad": pad.name, "node": pad.path}
    try:
        status = pad.path.stat()
        facts["rights"] = f"{status.st_mode & 0o777:o}, group {grp.getgrgid(status.st_gid).gr_name}"
    except (OSError, KeyError):
        facts["rights"] = "unknown"
    return facts
