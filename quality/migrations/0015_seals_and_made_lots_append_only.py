from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_dayseal", "quality_lotsignoff", "quality_lotcomponent"]


class Migration(migrations.Migration):
    """Seals of days, and signatures under lots made here with what went into them, can't be changed or deleted."""

    dependencies = [("quality", "0014_counts_seals_and_lots_made_here")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
