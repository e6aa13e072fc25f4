from typing import Any

from django.db import migrations

from routing.append_only import protect, unprotect

TABLES = ["quality_voiding"]


def settled_before(apps: Any, editor: Any) -> None:
    """Until now a problem could be settled in one way only."""
    problems = apps.get_model("quality", "Problem").objects.filter(state="settled", disposition="")
    problems.update(disposition="released")


class Migration(migrations.Migration):
    """What made a signature void can't be changed or deleted."""

    dependencies = [("quality", "0012_dispositions")]

    operations = [
        migrations.RunPython(settled_before, migrations.RunPython.noop),
        migrations.RunPython(
            lambda apps, editor: protect(editor.connection, TABLES),
            lambda apps, editor: unprotect(editor.connection, TABLES),
        ),
    ]
