"""Drawings as SVG, computed from the same numbers that they show. Pure: no Django, no files."""
