"""The reference renderer's view of a drawing, and how far an imported region is from it."""

from __future__ import annotations

import io

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image

from cutpaths.geometry.region import rings
from cutpaths.outline.supplied import Supplied

SVG = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PX_PER_MM = 96 / 25.4


def drawing(body: str, *, frame: str = 'width="200" height="200"') -> bytes:
    """A whole file round some elements."""
    return f"<svg {SVG} {frame}>{body}</svg>".encode()


def alpha(data: bytes, *, zoom: float) -> NDArray[np.float64]:
    """Opacity, 0 to 1, of each pixel as the renderer paints it."""
    png = resvg_py.svg_to_bytes(svg_string=data.decode(), zoom=zoom, dpi=96, languages=["en"])
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGBA"))[:, :, 3] / 255.0


def difference(data: bytes, found: Supplied, *, zoom: float = 3) -> float:
    """Pixels that are painted in only one of the two, as a share of those that the renderer paints.

    The region goes to the renderer as one path of straight lines, so that both are sampled alike.
    """
    want = alpha(data, zoom=zoom) > 0.5
    top = found.page.height_mm
    lines = (
        "L".join(f"{x * PX_PER_MM:.4f} {(top - y) * PX_PER_MM:.4f}" for x, y in ring) for ring in rings(found.region)
    )
    path = "".join(f"M{line}Z" for line in lines)
    height, width = want.shape
    frame = f'width="{width / zoom}" height="{height / zoom}"'
    have = alpha(drawing(f'<path fill-rule="evenodd" d="{path}"/>', frame=frame), zoom=zoom) > 0.5
    return float((want ^ have).sum() / max(int(want.sum()), 1))
