"""The sources that come with the tool, as their entry points see them: nothing heavy is imported before one is made."""

from __future__ import annotations

from typing import Any

from feelcheck.errors import SourceError
from feelcheck.model import Source, SourceKind, SourceOptions

__all__ = ["EVDEV", "GAMEPAD", "SYNTHETIC", "VIRTUAL"]


def _gamepad(options: SourceOptions) -> Source:
    from feelcheck.sources.gamepad.pad import GamepadSource

    return GamepadSource(options.device, low_power=options.low_power)


def _evdev(options: SourceOptions) -> Source:
    from feelcheck.sources.evdev.system import require_linux

    require_linux()
    from feelcheck.sources.evdev.source import EvdevSource

    return EvdevSource(options.device)


def _virtual(options: SourceOptions) -> Source:
    if options.led:
        from feelcheck.sources.gamepad.led import LedVirtualSource

        return LedVirtualSource(_world(options), options.script, options.seed, low_power=options.low_power)
    from feelcheck.sources.gamepad.virtual import VirtualSource

    return VirtualSource(_world(options), options.script, options.seed, options.seconds, low_power=options.low_power)


def _synthetic(options: SourceOptions) -> Source:
    from feelcheck.sources.synthetic import SyntheticSource

    class TruthfulSource(SyntheticSource):
        """The simulated world, its truth beside it."""

        def describe(self) -> dict[str, Any]:
            truth = {} if self.recording is None else dict(self.recording.truth)
            return {**super().describe(), "truth": truth}

    return TruthfulSource(_world(options), options.script, options.seed, options.seconds)


def _world(options: SourceOptions) -> str:
    if not options.simulate:
        raise SourceError("A simulated source needs the name of a world.", {"got": "none"}, "Name it with --simulate.")
    return options.simulate


GAMEPAD = SourceKind(name="gamepad", about="a pad through SDL's joystick queue", make=_gamepad)
EVDEV = SourceKind(name="evdev", about="a pad through Linux's event devices, stamped by the kernel", make=_evdev)
VIRTUAL = SourceKind(
    name="virtual",
    about="a simulated pad through SDL's own queue, in real time",
    make=_virtual,
    gives_cues=True,
    led=True,
)
SYNTHETIC = SourceKind(
    name="synthetic",
    about="a simulated pad without SDL, as fast as it goes",
    make=_synthetic,
    realtime=False,
    gives_cues=True,
)
