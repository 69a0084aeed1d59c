"""Pencil strokes: ridges in the raster, traced into curves, with a proposed role."""
