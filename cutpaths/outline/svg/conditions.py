"""Conditions: whether an element is meant for this reader. Source: SVG 2 section 5.9."""

from __future__ import annotations

from collections.abc import Callable

from cutpaths.outline.svg.document import Element

_OLD_FEATURE = "http://www.w3.org/TR/SVG11/feature#"


def conditions_hold(element: Element, remark: Callable[[str, int], None]) -> bool:
    """Whether the element's conditions hold; the reader's language is English, whatever the machine's is."""
    extensions, languages = element.get("requiredExtensions"), element.get("systemLanguage")
    features = element.get("requiredFeatures")
    if extensions is not None:
        return False
    if features is not None and not (features.split() and all(f.startswith(_OLD_FEATURE) for f in features.split())):
        return False
    if languages is None:
        return True
    remark("what is meant for one language is shown if that is English", element.line)
    return any(tag.strip().lower().split("-")[0] == "en" for tag in languages.split(","))
