"""Results as text, JSON, figures and pages; a module a kind, so that a command loads only its own.

What other rooms use of the private modules is loaded on demand, by the table in ``__init__.pyi``.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
