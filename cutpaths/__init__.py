"""True-size, cuttable lettering for thin tapered tubes."""

__version__ = "0.1.0"
