from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_lothold", "quality_heldshell"]


class Migration(migrations.Migration):
    """Which shells were held for a lot, and which had left by then, can't be changed or deleted."""

    dependencies = [("quality", "0010_lot_holds")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
