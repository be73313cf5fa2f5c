from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0002_append_only"),)
    operations = (
        migrations.AddField(model_name="intake", name="maximum_risk", field=models.FloatField(blank=True, null=True)),
    )
