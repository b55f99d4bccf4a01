"""DejaVu Sans 2.37 out of a registry package, the face that many published values were read from.

matplotlib carries the files unmodified. It is located, not imported.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path


def dejavu(name: str = "DejaVuSans") -> Path:
    """Path of one DejaVu file, such as `DejaVuSans-Oblique`."""
    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:
        raise RuntimeError("the tests need matplotlib for its copy of the DejaVu fonts; install the extra `test`")
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / f"{name}.ttf"
