from django.db import migrations, models


class Migration(migrations.Migration):
    """In which language papers are, and tablets at which nobody is signed in."""

    dependencies = [("routing", "0014_first_steps")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="language",
            field=models.CharField(
                choices=[("en", "English"), ("de", "Deutsch"), ("es", "español")],
                default="en",
                help_text="Of travelers, cards and tablets. The office is in English.",
                max_length=2,
            ),
        ),
    ]
