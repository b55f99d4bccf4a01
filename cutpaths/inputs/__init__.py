"""What the maker gives. Nouns only: blank, tool, stock, font, job, and how lengths are written."""
