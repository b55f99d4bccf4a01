"""Reports as text: the standard library reads back what was told."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from cutpaths.write.report import to_json, to_rows

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats(-1e6, 1e6) | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(st.text(max_size=4), VALUES, max_size=5))
def test_both_ways_of_writing_hold_the_same(values: dict[str, Any]) -> None:
    assert json.loads(to_rows(values)) == json.loads(to_json(values)) == values


def test_each_label_of_a_sheet_has_a_line() -> None:
    told = {"sheet": 3, "copies": {1: 2, 4: 1}, "inks": [], "reports": {"1": {"text": "Zoë"}, "4": {"text": "Łukasz"}}}
    assert to_rows(told) == (
        '{\n  "sheet": 3,\n  "copies": {\n    "1": 2,\n    "4": 1\n  },\n  "inks": [],\n'
        '  "reports": {\n    "1": {"text": "Zoë"},\n    "4": {"text": "Łukasz"}\n  }\n}\n'
    )
