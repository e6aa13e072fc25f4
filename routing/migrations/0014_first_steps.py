from __future__ import annotations

from django.db import migrations, models


def _words(longest: int, help_text: str) -> models.CharField[str, str]:
    return models.CharField(blank=True, default="", editable=False, max_length=longest, help_text=help_text)


class Migration(migrations.Migration):
    dependencies = [("routing", "0013_orders_by_due_date")]

    operations = [
        migrations.AddField("shop", "skipped_steps", _words(120, "First steps that were skipped, by their codes.")),
        migrations.AddField("shop", "round_order", _words(30, "The order of the guided round, while one is on.")),
        migrations.AddField("shop", "round_traced", _words(20, "The drum that was traced in the guided round.")),
    ]
