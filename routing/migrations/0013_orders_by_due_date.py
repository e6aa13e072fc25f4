from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

OF_STATIONS = ("operation", "plannedstep")


def _own_indexes(apps: Any, editor: Any, name: str) -> list[str]:
    """Those that a foreign key to the station made for itself."""
    model = apps.get_model("routing", name)
    named = {index.name for index in model._meta.indexes}
    return list(editor._constraint_names(model, ["station_id"], index=True, unique=False, exclude=named))


def drop(apps: Any, editor: Any) -> None:
    for name in OF_STATIONS:
        for index in _own_indexes(apps, editor, name):
            editor.execute(f"DROP INDEX {editor.quote_name(index)}")


def make_again(apps: Any, editor: Any) -> None:
    for name in OF_STATIONS:
        editor.execute(f"CREATE INDEX routing_{name}_station_id_again ON routing_{name} (station_id)")


def _station(related_name: str, on_delete: Any) -> models.ForeignKey[Any, Any]:
    return models.ForeignKey(db_index=False, on_delete=on_delete, related_name=related_name, to="routing.station")


class Migration(migrations.Migration):
    dependencies = [("routing", "0012_queues_by_due_date")]

    operations = [
        migrations.AddIndex(
            model_name="kitorder",
            index=models.Index(fields=["due", "number"], name="kitorder_due"),
        ),
        # The index goes and the table stays as it is: SQLite would write a table of years anew for a changed column.
        migrations.SeparateDatabaseAndState(
            database_operations=[migrations.RunPython(drop, make_again)],
            state_operations=[
                migrations.AlterField("operation", "station", _station("operations", django.db.models.deletion.PROTECT)),
                migrations.AlterField("plannedstep", "station", _station("+", django.db.models.deletion.CASCADE)),
            ],
        ),
    ]
