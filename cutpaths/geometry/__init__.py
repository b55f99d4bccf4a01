"""Plane and cone geometry in mm, y up; knows no labels. Nouns: tolerance, contour, region, axis. Verbs: the rest."""
