"""Pages -> one PDF at true size: vector paths, and under the drawn words the same words as text, to be found.

Same pages in, same bytes out: no date, no chance in names. The file asks the reader's program to print it unscaled.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from cutpaths import __version__
from cutpaths.inputs.bundled import find_bundled
from cutpaths.paper.page import Area, Glyph, Line, Page, Words
from cutpaths.paper.typeset import WIDE
from cutpaths.sheet.plan import box_of

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

    from cutpaths.geometry.contour import Contour

# Source: ISO 32000-1 section 8.3.2.3, the unit of default user space is 1/72 inch.
POINTS_PER_MM = 72 / 25.4
_INVISIBLE = 3  # text rendering mode: neither filled nor stroked. Source: ISO 32000-1 table 106.
_NONZERO = 1


def to_pdf(pages: Sequence[Page]) -> bytes:
    """The pages as one PDF file; each has its own size. Layers are not told apart."""
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415 - heavy
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415

    bundled = find_bundled(WIDE)
    assert bundled is not None
    pdfmetrics.registerFont(TTFont(WIDE, str(bundled.path)))
    file = BytesIO()
    canvas = Canvas(file, invariant=1, pageCompression=1)
    canvas.setTitle(pages[0].title)
    canvas.setAuthor("")
    canvas.setSubject("To be printed at 100 %")
    canvas.setCreator(f"cutpaths {__version__}")
    canvas.setViewerPreference("PrintScaling", "None")
    forms: dict[str, str] = {}
    for page in pages:
        for item in page.items:  # forms stand before the page that uses them
            for glyph in item.glyphs if isinstance(item, Words) else ():
                _form(canvas, glyph, forms)
        canvas.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        for item in page.items:
            _draw(canvas, item, forms)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _form(canvas: Canvas, glyph: Glyph, forms: dict[str, str]) -> None:
    """Each different glyph is held once in the file, in font units."""
    if glyph.key in forms:
        return
    name = forms[glyph.key] = f"glyph{len(forms)}"
    canvas.beginForm(name, *box_of(glyph.contours))
    draw_path(canvas, glyph.contours, fill=1, stroke=0)
    canvas.endForm()


def _draw(canvas: Canvas, item: Line | Area | Words, forms: dict[str, str]) -> None:
    canvas.saveState()
    if isinstance(item, Line):
        canvas.setStrokeColor(item.colour)
        canvas.setLineWidth(item.width_mm)
        if item.round_ends:
            canvas.setLineCap(1)
            canvas.setLineJoin(1)
        if item.dash_mm:
            canvas.setDash(list(item.dash_mm))
        draw_path(canvas, item.contours, fill=0, stroke=1)
    elif isinstance(item, Area):
        canvas.setFillColor(item.colour)
        draw_path(canvas, item.contours, fill=1, stroke=0)
    else:
        canvas.setFillColor(item.colour)
        canvas.translate(*item.at_mm)
        canvas.rotate(item.turn_deg)
        for glyph in item.glyphs:
            canvas.saveState()
            canvas.transform(1 / glyph.per_mm, 0, 0, 1 / glyph.per_mm, glyph.x_mm, glyph.y_mm)
            canvas.doForm(forms[glyph.key])
            canvas.restoreState()
        _text(canvas, item)
    canvas.restoreState()


def _text(canvas: Canvas, words: Words) -> None:
    """The words as text that is not seen, as long as they are drawn."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # noqa: PLC0415 - heavy

    size = words.cap_mm / CAP_PER_EM
    natural = stringWidth(words.text, WIDE, size)
    if natural <= 0.0:
        return
    text = canvas.beginText(0.0, 0.0)
    text.setTextRenderMode(_INVISIBLE)
    text.setFont(WIDE, size)
    text.setHorizScale(100.0 * words.width_mm / natural)
    text.textOut(words.text)
    canvas.drawText(text)


# Height of the capitals of the invisible face in its em; only the height of a selected line hangs on it.
CAP_PER_EM = 0.714


def draw_path(canvas: Canvas, contours: Sequence[Contour], *, fill: int, stroke: int) -> None:
    """Draw the contours as one path, filled by the nonzero rule, in the canvas' own colours."""
    path = canvas.beginPath()
    for contour in contours:
        path.moveTo(*contour.start.tolist())
        for (_, first, second, end), straight in zip(contour.segments.tolist(), contour.straight.tolist(), strict=True):
            if straight:
                path.lineTo(*end)
            else:
                path.curveTo(*first, *second, *end)
        if contour.closed:
            path.close()
    canvas.drawPath(path, fill=fill, stroke=stroke, fillMode=_NONZERO)
