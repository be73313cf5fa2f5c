import uuid

import django.db.models.deletion
from django.db import migrations, models

from groovewright.jobbook.append_only import protect


def make_triggers(apps, schema_editor):
    protect(schema_editor.connection, ["jobbook_complaintcorrection"])


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0004_targets_without_a_pivot"),)
    operations = (
        migrations.CreateModel(
            name="ComplaintCorrection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("text", models.TextField(blank=True)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="complaint_corrections",
                        to="jobbook.job",
                    ),
                ),
            ],
            options={"abstract": False},
        ),
        migrations.RunPython(make_triggers, migrations.RunPython.noop),
    )
