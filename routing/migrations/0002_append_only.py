from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["routing_shellrecord", "routing_shellspec"]


class Migration(migrations.Migration):
    """Records and frozen specs can't be changed or deleted, not even past the program."""

    dependencies = [("routing", "0001_initial")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
