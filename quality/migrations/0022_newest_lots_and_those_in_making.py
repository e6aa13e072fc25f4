from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('quality', '0021_accounts'),
    ]

    operations = [
        migrations.AddIndex(
            model_name='materiallot',
            index=models.Index(fields=['-received_on', 'code'], name='materiallot_newest'),
        ),
        migrations.AddIndex(
            model_name='materiallot',
            index=models.Index(condition=models.Q(('state', 'making')), fields=['state'], name='materiallot_in_making'),
        ),
    ]
