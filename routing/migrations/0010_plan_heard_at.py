import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    """When the maker of a plan was heard last."""

    dependencies = [("routing", "0009_capacity_and_plan")]

    operations = [
        migrations.AddField(
            model_name="plan",
            name="heard_at",
            field=models.DateTimeField(
                default=django.utils.timezone.now, help_text="The last sign of life of whoever makes it."
            ),
            preserve_default=False,
        ),
    ]
