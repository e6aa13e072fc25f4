from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('quality', '0017_stock_cartons_requests_append_only'),
    ]

    operations = [
        migrations.AddField(
            model_name='apikey',
            name='opens',
            field=models.CharField(choices=[('lists', 'everything, to read'), ('calendar', 'the calendar of due dates')], default='lists', max_length=8),
        ),
    ]
