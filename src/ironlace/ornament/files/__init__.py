"""Drawings as files: SVG, DXF, film, wrapped round a surface, laid back on the photograph."""
