"""Plan -> files: plain SVG, report, picture; each is read back before it takes its name."""
