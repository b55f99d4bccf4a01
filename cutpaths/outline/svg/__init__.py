"""Static SVG to painted areas in mm. Nouns: document, affine, length, style, path, painted. Verbs: the rest.

Document: the elements of the file, entities expanded, nothing fetched. Style: what the cascade says about one element.
Path: sub-paths of one shape in its own units. Painted: one fill or stroke in mm, y up, in painting order.
"""
