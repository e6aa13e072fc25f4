from django.db import migrations, models
import django.db.models.deletion


class Migration(migrations.Migration):
    """A request's address is proved by its records, and parts sent for it leave the shelf. What nobody read is gone."""

    dependencies = [
        ("quality", "0019_where_a_request_came_from"),
    ]

    operations = [
        migrations.AddField(
            model_name="customerrequest",
            name="address_salt",
            field=models.CharField(
                blank=True,
                default="",
                help_text="Makes the digest of the two above unguessable.",
                max_length=32,
            ),
            preserve_default=False,
        ),
        migrations.RemoveField(model_name="customerrequest", name="bag"),
        migrations.RemoveField(model_name="carton", name="contents"),
        # Without a default and not unique: SQLite adds the column in place, so the table keeps its triggers.
        migrations.AddField(
            model_name="stockmove",
            name="request",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="moves",
                to="quality.customerrequest",
            ),
        ),
    ]
