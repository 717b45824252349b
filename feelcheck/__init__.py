"""feelcheck: from the parts on a thumbstick's sensor board to the response in the hand.

The names below do what the commands of the same names do and return their results; each loads its libraries when it is
first used. Names and where they live stand in ``__init__.pyi``.

Examples
--------
>>> import feelcheck
>>> round(feelcheck.parts(resistor="4.7k", capacitor="1u").to_dict()["time_constant"]["value"], 3)
4.7
"""

import sys
from functools import partial
from types import ModuleType

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)


class _Face(ModuleType):
    """The package: a command's name is its function, also after a room of the same name was imported."""


def _give(name: str, _: ModuleType) -> object:
    return __getattr__(name)


def _keep(_: ModuleType, __: ModuleType) -> None:
    """Importing `feelcheck.bench` puts the room where the function belongs; the function stays."""


for _name in __all__:
    setattr(_Face, _name, property(partial(_give, _name), _keep))
sys.modules[__name__].__class__ = _Face
