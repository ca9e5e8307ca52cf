"""What a person reads: text, tables, figures, the set-up sheet, files for others."""

import lazy_loader

_MODULES = ("chart", "export", "sheet", "style", "text")
__getattr__, __dir__, __all__ = lazy_loader.attach(__name__, submodules=_MODULES)
