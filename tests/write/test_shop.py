"""The sheet for the shop: read back by pypdf, its picture held against that of the plain SVG files."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pypdf
import pypdfium2
import pytest
import resvg_py
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import binary_dilation

from cutpaths.inputs.ink import InkWish, read_ink
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make
from cutpaths.write.shop import shop_pdf, shop_plan
from cutpaths.write.split import split_plan
from cutpaths.write.svg import to_svg

INKS = (read_ink("Navy=#1b2a49"), read_ink("Pale cream=#f2e6c0"))
DPI = 600


@pytest.fixture(scope="module")
def made() -> Made:
    inks = InkWish(inks=INKS, outline_mm=0.35, choke_mm=0.06)
    return make(LabelJob(text="Ida", tool=tool(Method.PRINT), wish=Wish(cap_height_mm=5.0), inks=inks))


def spots(page: pypdf.PageObject) -> set[str]:
    """Names of all separations that a page has, in its resources."""
    spaces = page["/Resources"]["/ColorSpace"]  # type: ignore[index]
    return {str(s.get_object()[1]).replace("#20", " ") for s in spaces.values() if s.get_object()[0] == "/Separation"}


@pytest.mark.parametrize("mirror", [False, True])
def test_size_and_separations(made: Made, mirror: bool) -> None:
    plan = shop_plan(made.plan, mirror=mirror)
    data = shop_pdf(plan, INKS, mirror=mirror)
    [page] = pypdf.PdfReader(BytesIO(data)).pages
    assert [float(v) for v in page.mediabox[2:]] == pytest.approx(
        [plan.width_mm * 72 / 25.4, plan.height_mm * 72 / 25.4], abs=0.01
    )
    told = str(pypdf.PdfReader(BytesIO(data)).metadata["/Subject"])  # type: ignore[index]
    assert ("white layer is printed last" in told) is mirror
    assert spots(page) == {"/Navy", "/Pale cream", "/White", "/Trim"}
    assert data == shop_pdf(plan, INKS, mirror=mirror)


def dark(image: Image.Image) -> NDArray[np.bool_]:
    return np.asarray(image.convert("L")) < 250


@pytest.mark.parametrize("mirror", [False, True])
def test_the_picture_is_that_of_the_svg_files(made: Made, mirror: bool) -> None:
    plan = shop_plan(made.plan, mirror=mirror)
    pdf = pypdfium2.PdfDocument(shop_pdf(plan, INKS, mirror=mirror))
    seen = dark(pdf[0].render(scale=DPI / 72).to_pil())
    pictures = [
        resvg_py.svg_to_bytes(svg_string=to_svg(one), dpi=DPI, background="#ffffff")
        for one in split_plan(plan).values()
    ]
    layers = [dark(Image.open(BytesIO(bytes(picture)))) for picture in pictures]
    rows = round(made.plan.height_mm / 25.4 * DPI)  # the key stands below and is in the PDF alone
    high, wide = min(seen.shape[0], layers[0].shape[0], rows), min(seen.shape[1], layers[0].shape[1])
    drawn = np.any([layer[:high, :wide] for layer in layers], axis=0)
    seen = seen[:high, :wide]
    pixel = np.ones((3, 3))
    assert drawn.sum() > 10_000
    assert not (seen & ~binary_dilation(drawn, pixel)).any()
    assert not (drawn & ~binary_dilation(seen, pixel)).any()


def test_mirrored_layers_are_the_others_turned_over(made: Made) -> None:
    plain, over = (shop_plan(made.plan, mirror=mirror) for mirror in (False, True))
    for one, other in zip(plain.groups, over.groups, strict=True):
        a = np.concatenate([c.segments.reshape(-1, 2) for c in one.contours])
        b = np.concatenate([c.segments.reshape(-1, 2) for c in other.contours])
        assert a[:, 0].min() == pytest.approx(plain.width_mm - b[:, 0].max())
        assert a[:, 1].min() == pytest.approx(b[:, 1].min())
