"""The core: what every station needs to know about one drum, as pure functions over frozen dataclasses.

No Django, no clock, no database and no randomness. Units are in the names (mm, g, s, °C, N); inches only where
the trade's own sizes are nominal inches. Nothing here rounds: round once, where a number is shown.
"""
