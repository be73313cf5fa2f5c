from django.db import migrations

from groovewright.jobbook.append_only import protect

# The tables as they are at this point; a later table brings its own triggers. OwnerDetails stays out on purpose:
# an owner may have personal data replaced or erased.
TABLES = (
    "jobbook_ledger",
    "jobbook_owner",
    "jobbook_ownerdetailschange",
    "jobbook_deck",
    "jobbook_arm",
    "jobbook_cartridge",
    "jobbook_gauge",
    "jobbook_scale",
    "jobbook_job",
    "jobbook_intake",
    "jobbook_targetchoice",
    "jobbook_scalecheck",
    "jobbook_issuedplate",
    "jobbook_reading",
    "jobbook_fault",
    "jobbook_issuedreport",
    "jobbook_attachment",
    "jobbook_archiveimport",
)


def make_triggers(apps, schema_editor):
    protect(schema_editor.connection, TABLES)


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0001_record"),)
    operations = (migrations.RunPython(make_triggers, migrations.RunPython.noop),)
