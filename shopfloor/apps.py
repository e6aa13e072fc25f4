from __future__ import annotations

from django.apps import AppConfig


class ShopfloorConfig(AppConfig):
    name = "shopfloor"

    def ready(self) -> None:
        # Each registers what it has: checks and what is to happen with signals.
        from shopfloor import demo_check, paper_check, security_log, session_limits, slow_queries  # noqa: F401
        from shopfloor.backups import moved_check  # noqa: F401
