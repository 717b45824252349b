"""The vocabulary: frozen types that every other room speaks.

Loaded on demand, by the table in ``__init__.pyi``: making a type takes a millisecond, and no command speaks of all.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
