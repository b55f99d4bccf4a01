"""The practice sheet of a label that is made by pen, re-measured as it is written."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.affinity import translate

from cutpaths.errors import BrokenPromiseError, InputError
from cutpaths.geometry.region import Region, region
from cutpaths.inputs.bundled import default_font_name
from cutpaths.inputs.font import Font, open_font
from cutpaths.inputs.glyph import ink_bounds
from cutpaths.inputs.hand import Hand
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.lay import Laying
from cutpaths.inputs.paper import PAPER_MM
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.place import Reads
from cutpaths.inputs.tool import Method
from cutpaths.outline.lettering import Letter
from cutpaths.outline.text import shape_text
from cutpaths.paper.page import INK, PENCIL, TAPE, Area, Line, Page
from cutpaths.paper.pen_words import FACE
from cutpaths.paper.practice import BROAD_NIB, Model, practice_sheets
from cutpaths.paper.strip import Strip, strip_for
from cutpaths.pipeline import Made, make
from cutpaths.shape.letter import letter_region
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.cuttable import path_faults
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg

# Guides on paper, as fine as an office printer holds them.
GUIDE_MM = 0.15
# Descenders of a face that draws none, cap heights. Source: ISO 3098-1, 3/10 of the capital height.
USUAL_BELOW = 0.3
MOST_ROWS = 500


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Practised:
    """made: the label whose words are practised. plans, svgs: by page. nib_mm: of a broad nib. x_mm: the x-height."""

    made: Made
    plans: tuple[Plan, ...]
    svgs: tuple[str, ...]
    nib_mm: float | None
    x_mm: float


def sized_by_x(job: LabelJob, x_mm: float) -> LabelJob:
    """The job with the cap height at which the face's x-height is that. Raises: InputError: the face has no x."""
    font = _face(job)
    if font.x_height <= 0.0:
        raise InputError(f"{font.name} has no small x to be sized by; give --cap-height")
    cap_mm = x_mm * font.cap_height / font.x_height
    return replace(job, wish=replace(job.wish, cap_height_mm=cap_mm))


def practise(
    job: LabelJob,
    hand: Hand,
    *,
    page_mm: tuple[tuple[float, float], ...],
    left_handed: bool = False,
    rows: int | None = None,
    made: Made | None = None,
) -> Practised:
    """The sheet for the job's words on the first of the pages that takes fewest.

    rows: how many are written, on as many pages as it takes; otherwise one page is filled where it can be.
    made: the label of the job, where it is at hand.
    Raises: InputError: a drawing or several faces instead of words, no lines of a pen, or no page is large enough;
        CannotMakeError, BrokenPromiseError.
    """
    if job.drawing is not None or job.lines:
        raise InputError("words in one face are practised, neither a drawing nor lines of several faces; give text")
    if job.tool.method is not Method.PEN or job.pen is not Pen.LINES:
        raise InputError('the lines of a pen are practised; give method = "pen"')
    if job.wish.laying != Laying():
        raise InputError("words are practised straight; leave out lay, follow taper and even look")
    if rows is not None and not 2 <= rows <= MOST_ROWS:
        raise InputError(f"the rows must be from 2 to {MOST_ROWS}, got {rows}")
    job = job if made is not None else replace(job, font=job.font or FACE)
    made = made or make(job)
    model = _model(job, made)
    nib = None if hand.nibs is None else model.x_mm / hand.nibs
    strip = _strip(job, made)
    refused: InputError | None = None
    found: tuple[Plan, ...] = ()
    for page in page_mm:
        try:
            plans = practice_sheets(
                model, hand, page_mm=page, nib_mm=nib, left_handed=left_handed, strip=strip, rows=rows
            )
        except InputError as error:
            refused = refused or error
            continue
        found = plans if not found or len(plans) < len(found) else found
        if len(found) == 1:
            break
    if not found:
        raise refused or InputError("no page was given")
    svgs = tuple(_checked(plan, job) for plan in found)
    return Practised(made=made, plans=found, svgs=svgs, nib_mm=nib, x_mm=model.x_mm)


def practised_label(
    made: Made, job: LabelJob, hand: Hand, *, left_handed: bool = False, rows: int | None = None
) -> Practised:
    """The sheet for a label that is at hand, on the job's paper. Raises: as `practise`."""
    short, long = PAPER_MM[job.paper]
    job = replace(job, font=job.font or default_font_name())
    pages = ((short, long), (long, short))
    return practise(job, hand, page_mm=pages, left_handed=left_handed, rows=rows, made=made)


def practice_pages(practised: Practised) -> tuple[Page, ...]:
    """All pages for a printer."""
    return tuple(practice_page(plan) for plan in practised.plans)


def _checked(plan: Plan, job: LabelJob) -> str:
    """The page as it is written, read back. Raises: BrokenPromiseError."""
    svg = to_svg(plan, scale_x=job.workshop.scale_x, scale_y=job.workshop.scale_y)
    faults = tuple(note for note in path_faults(read_svg(svg.encode("utf-8"))) if note.failing)
    if faults:
        raise BrokenPromiseError(f"the sheet was read back and not saved: {faults[0].text}", notes=faults)
    return svg


def practice_page(plan: Plan) -> Page:
    """The sheet for a printer, what a broad nib leaves in a pale tone."""
    looks = {Layer.PEN: INK, Layer.GUIDES: PENCIL}
    items = tuple(
        Line(
            contours=g.contours,
            width_mm=g.line_mm or GUIDE_MM,
            colour=looks[g.layer],
            round_ends=True,
            layer=str(g.layer),
        )
        for g in plan.groups
    )
    broad = tuple(Area(contours=g.contours, colour=TAPE) for g in plan.groups if g.label == BROAD_NIB)
    return Page(width_mm=plan.width_mm, height_mm=plan.height_mm, items=(*broad, *items), title=plan.title)


def _face(job: LabelJob) -> Font:
    return open_font(job.font or FACE, axes=job.axes)


def _model(job: LabelJob, made: Made) -> Model:
    """What is written, with the heights of its face at its size."""
    font, cap = _face(job), made.label.cap_height_mm
    lettering = shape_text(job.text, font, features=job.features)
    firsts: dict[int, Letter] = {}
    for letter in (letter for line in lettering.lines for letter in line):
        firsts.setdefault(letter.word, letter)
    first = tuple(
        _first_letter(letter, area, cap_mm=cap, line_mm=job.tool.min_stroke_mm)
        for area, (_, letter) in zip(made.label.words, sorted(firsts.items()), strict=True)
    )
    glyph = font.nominal_glyph("p")
    ink = None if glyph is None else ink_bounds(font.glyph(glyph))
    below = USUAL_BELOW if ink is None or ink[1] >= 0.0 else -ink[1] / font.cap_height
    return Model(
        text=job.text,
        strokes=tuple(c for g in made.piece.groups if g.layer is Layer.PEN for c in g.contours),
        first=first,
        base_mm=tuple(line[0].y * cap for line in lettering.lines),
        x_mm=(lettering.x_height or 0.7) * cap,
        cap_mm=cap,
        below_mm=below * cap,
        ink_mm=made.piece.ink_mm,
        tape_mm=made.piece.box_mm,
        line_mm=job.tool.min_stroke_mm,
    )


def _first_letter(letter: Letter, word: Region, *, cap_mm: float, line_mm: float) -> Region:
    """The letter where the word begins, with room for the pen's line."""
    drawn = letter_region(letter, cap_mm)
    shift = (word.bounds[0] - drawn.bounds[0], letter.y * cap_mm)
    return region(translate(drawn, *shift).buffer(line_mm / 2))


def _strip(job: LabelJob, made: Made) -> tuple[Strip, float] | None:
    """The strip to wrap and the blank's diameter there; which way the words read is all the same on scrap."""
    blank = job.wish.blank
    if blank is None:
        return None
    place = replace(job.place, reads=Reads.BUTT_TO_TIP)
    return strip_for(made.piece, blank, place, laying=job.wish.laying), blank.diameter_at_mm(blank.centre_mm)
