"""Advice as JSON and as a short table for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cutpaths.inputs.job import LabelJob
from cutpaths.shape.advise import Advice, Answer, Least, Verdict
from cutpaths.shape.solve import MOST_SPAN_DEG
from cutpaths.write.report import note_values, versions


def advice_report(advice: Advice, job: LabelJob, faces: Sequence[Answer]) -> dict[str, Any]:
    """Everything advised, as plain values for JSON; lengths in mm to three decimals."""
    return {
        "text": job.text,
        "face": advice.own.name,
        "method": str(job.tool.method),
        "limits_from": job.tool.limits_from,
        "makeable": advice.own.verdict is not Verdict.NO,
        "cap_height_mm": round(advice.own.cap_height_mm, 3),
        "limited_by": advice.limited_by,
        "methods": [{"method": str(answer.tool.method), **_answer(answer)} for answer in advice.methods],
        "would_do": None if advice.least is None else _least(advice.least),
        "faces": [{"face": answer.name, **_answer(answer)} for answer in faces],
        "notes": [note_values(note) for note in advice.notes],
        "versions": versions(),
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "verdict": str(answer.verdict),
        "limits_mm": [answer.tool.min_stroke_mm, answer.tool.min_gap_mm],
        "cap_height_mm": round(answer.cap_height_mm, 3),
        "moved_mm": round(answer.moved_mm, 3),
        "letter_space": round(answer.letter_space, 3),
        "reason": answer.reason,
    }


def _least(least: Least) -> dict[str, Any]:
    return {
        "cap_height_mm": least.cap_height_mm,
        "ink_mm": [round(side, 3) for side in least.ink_mm],
        "turn_deg": least.turn_deg,
        "fits": least.fits,
        "span_deg": least.span_deg,
        "letter_space": least.letter_space,
    }


def advice_table(advice: Advice, job: LabelJob) -> str:
    """The advice in a workshop's words, without the faces."""
    own = advice.own
    lines = [
        f"{job.text} in {own.name}, capitals {own.cap_height_mm:.2f} mm, limited by the {advice.limited_by}",
        "",
        *(_method_line(answer) for answer in advice.methods),
    ]
    if own.verdict is Verdict.NO:
        lines += ["", f"What would do by {job.tool.method}, one change at a time:"]
        lines += [f"  {line}" for line in _least_lines(advice, job)]
    return "\n".join([*lines, "", *(f"- {note.text}" for note in advice.notes)])


def _method_line(answer: Answer) -> str:
    limits = f"{answer.tool.min_stroke_mm:g}/{answer.tool.min_gap_mm:g}"
    return f"{answer.tool.method!s:<8} {limits:<9} {answer.words}"


def _least_lines(advice: Advice, job: LabelJob) -> list[str]:
    least = advice.least
    if least is None:
        where = (
            "" if job.wish.blank is None else f" and goes no farther than {MOST_SPAN_DEG:g} degrees round this blank"
        )
        if advice.spent:
            return ["another size was not looked for to the end, as so much outline takes too long to try"]
        return [f"no size of this face was found that would do{where}: take another face or method"]
    width, height = least.ink_mm
    size = f"capitals of {least.cap_height_mm:g} mm, the ink then {width:.1f} x {height:.1f} mm"
    if least.turn_deg is not None:
        size += f" and {least.turn_deg:g} degrees round"
    lines = [f"size    {size}" + ("" if least.fits else "; this blank has no room for it")]
    if least.span_deg is not None:
        lines.append(f"span    {least.span_deg:g} degrees")
    elif job.wish.blank is not None and advice.limited_by == "span":
        lines.append("span    none that can still be read from one side")
    if least.letter_space is not None:
        lines.append(f"space   {least.letter_space:.0%} of the cap height between letters")
    return lines


def face_line(answer: Answer) -> str:
    """One bundled face as a line of the table."""
    mark = "no " if answer.verdict is Verdict.NO else "yes"
    size = f"{answer.cap_height_mm:5.2f} mm" if answer.cap_height_mm else "        "
    words = answer.reason if answer.verdict is Verdict.NO else answer.words
    return f"  {mark}  {answer.name:<27} {size}  {words}"


def least_line(answer: Answer) -> str:
    """The same face at the least size found for it, below its own line."""
    if answer.verdict is Verdict.NO:
        return f"       {'':<27}           no size was found that would do"
    return f"       {'':<27} {answer.cap_height_mm:5.2f} mm  would do: {answer.words}"
