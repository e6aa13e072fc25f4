"""Checks against the outside world: each number that can be, held against a value somebody else published.

Every module here may have a list ``CHECKS``; :mod:`tests.published.checks` finds them all.
"""
