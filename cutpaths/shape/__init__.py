"""Lettering -> Label: makeable by the method, and as large as fits the tube."""
