"""Labels -> pages to be printed, read and signed.

Nouns: `page`, `flow` (blocks on pages), `typeset`, `shapes`, `strip`, `steps`, `spelling`, `check`, `proof`.
Verbs: `draw_strip`, `rod` and `on_blank` draw; `marking_out` and `proof_pages` lay out; `clip` cuts a part out.
"""
