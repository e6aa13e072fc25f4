from __future__ import annotations

from django.apps import AppConfig


class ShopfloorConfig(AppConfig):
    name = "shopfloor"

    def ready(self) -> None:
        from shopfloor import paper_check  # noqa: F401  registers its check
        from shopfloor.backups import moved_check  # noqa: F401  so does it
