"""A flick script run against any source: a session on disk, whatever happens on the way.

Loaded on demand, by the table in ``__init__.pyi``: a name costs what it needs.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
