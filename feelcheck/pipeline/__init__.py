"""Each command's whole flow, readable on one screen: one module a command, one function of the command's name.

Every function returns the frozen result; renderers turn it into text, JSON, figures and pages. Names and where they
live stand in ``__init__.pyi``, the one table that type checkers and the lazy loading both read.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
