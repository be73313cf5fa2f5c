import uuid

from django.db import migrations, models

from groovewright.jobbook.append_only import protect


def make_triggers(apps, schema_editor):
    protect(schema_editor.connection, ["jobbook_letterhead"])


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0007_bench"),)
    operations = (
        migrations.CreateModel(
            name="Letterhead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("name", models.CharField(max_length=200)),
                ("address", models.TextField(blank=True)),
                ("logo_sha256", models.CharField(blank=True, max_length=64)),
                ("logo_media_type", models.CharField(blank=True, max_length=100)),
            ],
            options={"abstract": False},
        ),
        migrations.RunPython(make_triggers, migrations.RunPython.noop),
    )
