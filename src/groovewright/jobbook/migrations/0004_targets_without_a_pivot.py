from django.db import migrations

import groovewright.jobbook.models.record
from groovewright.jobbook.append_only import protect, unprotected_tables


def protect_again(apps, schema_editor):
    # SQLite changes a column by making the table anew, and its triggers go with the old one.
    protect(schema_editor.connection, unprotected_tables(schema_editor.connection, ["jobbook_targetchoice"]))


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0003_maximum_risk"),)
    operations = (
        migrations.AlterField(
            model_name="targetchoice",
            name="pivot_to_spindle",
            field=groovewright.jobbook.models.record.QuantityField(null=True),
        ),
        migrations.RunPython(protect_again, migrations.RunPython.noop),
    )
