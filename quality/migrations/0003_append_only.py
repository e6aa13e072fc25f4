from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_signoff", "quality_reading", "quality_withdrawal"]


class Migration(migrations.Migration):
    """Signatures, readings and withdrawals can't be changed or deleted, not even past the program."""

    dependencies = [("quality", "0002_initial"), ("routing", "0002_append_only")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
