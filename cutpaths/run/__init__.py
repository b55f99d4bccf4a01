"""A run of many labels: made one by one, kept on disk, packed on sheets, written sheet by sheet."""
