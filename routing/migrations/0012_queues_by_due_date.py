from __future__ import annotations

from typing import Any

from django.db import migrations, models

CURRENT = ["ready", "in_work", "on_hold"]


def fill_due(apps: Any, editor: Any) -> None:
    """Steps of orders that are still in the shop; nothing of what was shipped is worked again."""
    editor.execute(
        "UPDATE routing_operation SET due = (SELECT routing_kitorder.due FROM routing_shell "
        "JOIN routing_kitorder ON routing_kitorder.id = routing_shell.order_id "
        "WHERE routing_shell.id = routing_operation.shell_id) "
        "WHERE shell_id IN (SELECT routing_shell.id FROM routing_shell "
        "JOIN routing_kitorder ON routing_kitorder.id = routing_shell.order_id "
        "WHERE routing_kitorder.state IN ('released', 'in_production', 'complete'))"
    )


class Migration(migrations.Migration):
    dependencies = [("routing", "0011_traveler_prints")]

    operations = [
        migrations.AddField(
            model_name="operation",
            name="due",
            field=models.DateField(
                blank=True,
                help_text="The day of its order, which no release changes: a queue is read in its order.",
                null=True,
            ),
        ),
        migrations.RunPython(fill_due, migrations.RunPython.noop),
        migrations.RemoveIndex(model_name="operation", name="operation_queue"),
        migrations.AddIndex(
            model_name="operation",
            index=models.Index(
                condition=models.Q(("state__in", CURRENT)),
                fields=["station", "due", "ready_at", "id", "state", "not_before"],
                name="operation_queue",
            ),
        ),
    ]
