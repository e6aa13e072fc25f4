from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_stockmove", "quality_cartondrum", "quality_requestevent"]


class Migration(migrations.Migration):
    """Movements of parts, drums in closed cartons, and what happened to a request can't be changed or deleted."""

    dependencies = [("quality", "0016_bags_cartons_requests_and_keys")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
