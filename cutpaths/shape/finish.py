"""From fitted letters to what will be cut: tight ground eased, islands tied in a stencil, all of it judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.measure import Limits, part_faults, sound_as
from cutpaths.geometry.parts import part_of
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import BridgeWish, Wish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.bridge import Bridge, bridge
from cutpaths.shape.compose import Composed, with_sound
from cutpaths.shape.cut_line import CutLine
from cutpaths.shape.effort import is_redrawable
from cutpaths.shape.fit import Fitted, fit
from cutpaths.shape.gaps import ease_gaps, eased_parts
from cutpaths.shape.islands import Island, islands
from cutpaths.shape.judge import judge, limit_notes, reading_notes, topology_notes, unheld_notes
from cutpaths.shape.limits import FILM_GROUND, limits_of
from cutpaths.shape.series import enlarged, enlarged_note
from cutpaths.shape.slivers import without_slivers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """What is known of lettering that was finished run by run. before, after: the limits kept as drawn and as made."""

    words: tuple[Region, ...]
    before: Limits
    after: Limits
    cut_line: CutLine


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finished:
    """The lettering as it will be cut.

    whole: the lettering before it was bridged; the same where no bridge was made. islands: where the ground is film,
    the pieces of it that letters enclose. notes: what was done. faults: what keeps it from being made.
    known: what is known of it where it was found run by run, found out when it is asked for.
    """

    composed: Composed
    whole: Composed
    bridges: tuple[Bridge, ...]
    islands: tuple[Island, ...]
    notes: tuple[Note, ...]
    faults: tuple[Note, ...]
    known: Callable[[], Known] | None = None


def finish(
    composed: Composed, tool: Tool, wish: BridgeWish, *, held_to: Tool | None = None, tol: Tolerance = TOLERANCE
) -> Finished:
    """Ease, tie and judge. Bridges part letters and open counters on purpose, so these are compared before.

    held_to: limits to judge by where they are not the tool's own.
    """
    judged_by = held_to or tool
    if composed.shaped is not None and tool.method not in FILM_GROUND:
        return _enlarged(finish(composed.shaped, tool, wish, held_to=held_to, tol=tol), composed, judged_by, tol)
    filled = without_slivers(with_sound(replace(composed, shaped=None), tool, tol), tool.min_gap_mm, tol)
    eased = ease_gaps(filled.composed, tool, tol)
    eased = replace(eased, notes=(*filled.notes, *eased.notes))
    if tool.method is not Method.STENCIL:
        held = islands(eased.composed.made, eased.composed.letters) if tool.method in FILM_GROUND else ()
        return Finished(
            composed=eased.composed,
            whole=eased.composed,
            bridges=(),
            islands=held,
            notes=eased.notes,
            faults=judge(eased.composed, judged_by, tol=tol),
        )
    tied = bridge(eased.composed, tool, wish, tol=tol)
    return Finished(
        composed=tied.composed,
        whole=eased.composed,
        bridges=tied.bridges,
        islands=tied.islands,
        notes=(*eased.notes, *(note for note in tied.notes if not note.failing)),
        faults=(
            *(failing := tuple(note for note in tied.notes if note.failing)),
            *(() if failing else unheld_notes(tied.composed.made)),
            *limit_notes(tied.composed.made, judged_by, tied.composed.letters, tol=tol),
            *topology_notes(eased.composed),
            *reading_notes(eased.composed, tool, tol=tol),
        ),
    )


def _enlarged(shaped: Finished, to: Composed, judged_by: Tool, tol: Tolerance) -> Finished:
    """What was finished at a size of the series at the size that it is for; faults are told of that size itself."""
    cap, scale = to.cap_height_mm, to.cap_height_mm / shaped.composed.cap_height_mm
    composed = to if shaped.composed is to.shaped else enlarged(shaped.composed, cap, tol)
    return Finished(
        composed=composed,
        whole=composed,
        bridges=(),
        islands=(),
        notes=tuple(enlarged_note(note, scale) for note in shaped.notes),
        faults=judge(composed, judged_by, tol=tol) if shaped.faults else (),
    )


def fails_early(composed: Composed, tool: Tool, *, held_to: Tool | None = None, tol: Tolerance = TOLERANCE) -> bool:
    """Whether `finish` is sure to find faults; says so at the first part that cannot be made.

    Easing tight ground mends no letter that came apart or closed.
    """
    if tool.method not in FILM_GROUND:
        composed = composed.shaped or composed
    composed = without_slivers(with_sound(composed, tool, tol), tool.min_gap_mm, tol).composed
    if topology_notes(composed):
        return True
    if tool.method in FILM_GROUND:
        return False  # film is eased and judged as a whole
    limits = limits_of(held_to or tool)
    for part, made, _ in eased_parts(composed, tool, tol):
        if made is None and sound_as(part, composed.sound) is not None:
            continue
        if any(part_faults(part if made is None else part_of(made, tol), limits, tol)):
            return True
    return False


def as_it_is(
    lettering: Lettering, tool: Tool, wish: Wish, *, tol: Tolerance = TOLERANCE
) -> tuple[Fitted, Finished] | None:
    """A drawing that holds the limits, such as a cut file of ours, with nothing on it moved; or None.

    Looked at where it states its size, or is too much to be redrawn.
    """
    redrawable = all(is_redrawable(letter, tol=tol) for line in lettering.lines for letter in line)
    if lettering.own_height_mm is None and redrawable:
        return None
    return as_drawn(lettering, tool, wish, tol=tol)


def as_drawn(
    lettering: Lettering, tool: Tool, wish: Wish, *, tol: Tolerance = TOLERANCE
) -> tuple[Fitted, Finished] | None:
    """The lettering with nothing on it moved, where it holds the limits; or None."""
    try:
        fitted = fit(lettering, tool, wish, untouched=True, tol=tol)
    except CannotMakeError:
        return None
    composed = fitted.composed
    loose = tool.method is Method.STENCIL and unheld_notes(composed.made)
    if loose or limit_notes(composed.made, tool, tol=tol):
        return None
    held = islands(composed.made, composed.letters) if tool.method is Method.MASK else ()
    return fitted, Finished(composed=composed, whole=composed, bridges=(), islands=held, notes=(), faults=())
