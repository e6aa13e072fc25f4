"""Keeping the shop's data: backups, coming back from one, moving to a larger database."""
