from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_materialuse", "quality_photo"]


class Migration(migrations.Migration):
    """What a signed step used, and the photos taken, can't be changed or deleted."""

    dependencies = [("quality", "0004_floor")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
