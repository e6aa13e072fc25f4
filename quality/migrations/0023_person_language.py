from django.db import migrations, models

EVENTS = [
    ("made", "account made"),
    ("name", "name changed"),
    ("username", "user name changed"),
    ("role", "role changed"),
    ("language", "language changed"),
    ("closed", "account closed"),
    ("opened", "account opened again"),
    ("qualified", "qualified"),
    ("pin", "new PIN"),
    ("password", "new password"),
    ("unlocked", "wrong tries forgotten"),
]


class Migration(migrations.Migration):
    """In which language the tablets speak to a person."""

    dependencies = [("quality", "0022_newest_lots_and_those_in_making")]

    operations = [
        migrations.AddField(
            model_name="person",
            name="language",
            field=models.CharField(
                blank=True,
                choices=[("en", "English"), ("de", "Deutsch"), ("es", "español")],
                default="",
                help_text="At the tablets; empty: the shop's. The office is in English.",
                max_length=2,
            ),
        ),
        migrations.AlterField(
            model_name="accountchange", name="what", field=models.CharField(choices=EVENTS, max_length=9)
        ),
    ]
