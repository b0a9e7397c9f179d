"""Drawings made elsewhere (DXF, SVG, CSV of points) read into hides and panels.

``reading`` turns a file into strokes in millimetres, ``loops`` joins strokes end to end into closed
rings with their arcs kept, ``as_hide`` and ``as_panel`` say which ring is what. Every repair and
every decision becomes a ``Note``.
"""
