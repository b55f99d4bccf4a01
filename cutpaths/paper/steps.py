"""The steps at the bench, in few plain words, each with the caution that belongs to it.

Cautions say what the hazard is and whom to believe: the product's data sheet and the rules of the place. The published
guidance behind them: blades - HSE, OSHA and CCOHS pages on hand tools; solvents - OSHA and NIOSH; spray mist and
isocyanates - HSE HSG276; epoxy - HSE RR79 and HSG262; PVC in a laser - rules of university laser workshops.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cutpaths.inputs.tool import Method
from cutpaths.paper.flow import Block
from cutpaths.paper.page import ACCENT, Item
from cutpaths.paper.typeset import LINE_PITCH, Type, set_paragraph, set_words

BLADE = "Blade: cut away from yourself along a steel rule, cap it between cuts."
SOLVENT = (
    "Solvent vapour burns and harms: no flame, fresh air, gloves as its data sheet says; test under the grip first."
)
SPRAY = (
    "Mist harms lungs: the paint’s data sheet and local rules first; two-pack paint is for equipped, trained people."
)
EPOXY = "Uncured epoxy and its dust can make skin allergic for life: gloves, read the data sheet, no solvent on skin."
LASER = "Never put PVC film into a laser: it gives off hydrogen chloride."

_CARRIER = (
    ("Weed the label, cut the carrier tape as drawn, lay it on, centre tick on centre.", f"{BLADE} {LASER}"),
    ("Stick the hinge edge of the tape on its pencilled line, centre first. Fold back, peel the liner, rub down from "
     "the centre outwards, peel the tape low and slow.", ""),
)  # fmt: skip
_PLACED: dict[Method, tuple[tuple[str, str], ...]] = {
    Method.VINYL: (
        *_CARRIER,
        ("Rub down once more, ends and tips most. Try the finish on scrap film before you seal.", EPOXY),
    ),
    Method.MASK: (
        *_CARRIER,
        ("Press the edges down, cover the rest of the rod, seal with a thin clear coat, then thin colour coats. Peel "
         "when it no longer strings.", SPRAY),
        ("Seal as the finish’s data sheet says.", EPOXY),
    ),
    Method.PRINT: (
        ("Trim along the trim line and lay the print in the marked frame, centre on centre.", BLADE),
        ("Try the finish on a spare print first, then seal.", EPOXY),
    ),
    Method.PEN: (
        ("Lay masking tape along the upper and the lower line, write, let it dry.", ""),
        ("Test the finish over your ink on scrap, then seal.", EPOXY),
    ),
}  # fmt: skip
_PLACED[Method.STENCIL] = _PLACED[Method.MASK]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do. caution: what can go wrong with a body or a rod while doing it, may be empty."""

    text: str
    caution: str = ""


class Wrap(StrEnum):
    """What is wrapped round the blank: a strip with a window, one as wide as the tape of a ring, a spiral's ribbon."""

    WINDOW = "window"
    RING = "ring"
    RIBBON = "ribbon"


_CUT = {Wrap.WINDOW: "Cut out the strip and its tinted window."}
_SEAM = "The long edge must lie on the dashed line, A on A and B on B."
_WRONG = "If not, size or diameter is wrong: stop and measure again."
_LAID = {
    Wrap.WINDOW: f"Wrap the strip, the A side towards the butt, the window’s centre ticks on your centre mark. {_SEAM} "
    f"{_WRONG}",
    Wrap.RING: f"Wrap the strip, the A side towards the butt, its middle on your centre mark. {_SEAM} {_WRONG}",
    Wrap.RIBBON: "Lay the strip on, its BUTT end towards the butt, the middle of line C on your centre mark and line C "
    "along the rod. Then wrap both ends round, flat and without a fold: they just reach your end marks.",
}
_PENCIL = {
    Wrap.WINDOW: "Pencil the window’s four corners, and a tick at the centre of each of its sides. Take the strip off.",
    Wrap.RING: "Pencil along both edges all the way round, and the middle ticks of both. Take the strip off.",
    Wrap.RIBBON: "Pencil along all its edges, and the short ticks at the middle of both long ones. Take the strip off.",
}


def bench_steps(method: Method, *, place: str, side: str, wrap: Wrap = Wrap.WINDOW) -> tuple[Step, ...]:
    """All steps in order. place, side: the sentences about the distances and about the side of this label."""
    marking = (
        Step(text="Measure the square. Not 50 mm both ways? See under it, and do not use the strip."),
        Step(text=_CUT.get(wrap, "Cut out the strip."), caution=BLADE),
        Step(text=f"Wipe the blank clean. {place}", caution=SOLVENT),
        Step(text=_LAID[wrap]),
        Step(text=side),
        Step(text=_PENCIL[wrap]),
        Step(text="Read the label aloud, letter by letter, against the order."),
    )
    return (*marking, *(Step(text=text, caution=caution) for text, caution in _PLACED[method]))


def steps_block(steps: tuple[Step, ...], *, width_mm: float) -> Block:
    """The steps, numbered."""
    items: list[Item] = []
    y, indent, cap, small = -2.0, 5.5, 2.0, 1.6
    for number, step in enumerate(steps, start=1):
        items.append(set_words(str(number), at_mm=(0.0, y), cap_mm=cap, face=Type.STRONG))
        lines = set_paragraph(step.text, at_mm=(indent, y), width_mm=width_mm - indent, cap_mm=cap)
        y -= len(lines) * LINE_PITCH * cap
        items += lines
        if step.caution:
            warned = set_paragraph(
                step.caution, at_mm=(indent, y + 0.4), width_mm=width_mm - indent, cap_mm=small, colour=ACCENT
            )
            items += warned
            y -= len(warned) * LINE_PITCH * small
        y -= 1.0
    return Block(items=tuple(items), height_mm=-y - cap)
