"""Labels -> pages to be printed, read and signed: `page` (what a page shows) | `typeset` (words as outlines)."""
