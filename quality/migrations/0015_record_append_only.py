from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = [
    "quality_dayseal",
    "quality_lotsignoff",
    "quality_lotcomponent",
    "quality_stockmove",
    "quality_cartondrum",
    "quality_requestevent",
]


class Migration(migrations.Migration):
    """Seals, signatures under lots made here, moves of stock, and what lay in a carton can't be changed or deleted."""

    dependencies = [("quality", "0014_record_kitting_requests")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
