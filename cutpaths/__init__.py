"""True-size, cuttable lettering for thin tapered tubes.

>>> from cutpaths import make
>>> label = make("IL", cap_height_mm=11)
>>> sorted(label.report["size"])
['cap_height_mm', 'ink_height_mm', 'ink_width_mm', 'letter_space_mm']
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from cutpaths.api import LabelFile, LabelKeys, make
    from cutpaths.errors import BrokenPromiseError, CannotMakeError, CutpathsError, InputError

__all__ = [
    "BrokenPromiseError",
    "CannotMakeError",
    "CutpathsError",
    "InputError",
    "LabelFile",
    "LabelKeys",
    "make",
]


def __getattr__(name: str) -> object:
    """What is offered here is loaded when it is asked for, so that the program starts at once (PEP 562)."""
    if name not in __all__:
        raise AttributeError(f"module 'cutpaths' has no attribute {name!r}")
    from importlib import import_module  # noqa: PLC0415

    home = "cutpaths.errors" if name.endswith("Error") else "cutpaths.api"
    return getattr(import_module(home), name)
