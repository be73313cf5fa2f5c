import uuid

import django.db.models.deletion
from django.db import migrations, models

from groovewright.jobbook.append_only import protect, unprotected_tables

NEW_TABLES = ("jobbook_capture", "jobbook_capturesheet", "jobbook_captureanalysis")


def make_triggers(apps, schema_editor):
    # SQLite makes the table of readings anew for its longer column, and its triggers go with the old one.
    lacking = unprotected_tables(schema_editor.connection, ["jobbook_reading"])
    protect(schema_editor.connection, [*NEW_TABLES, *lacking])


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0005_complaint_correction"),)

    operations = (
        migrations.AlterField(
            model_name="reading",
            name="kind",
            field=models.CharField(
                choices=[
                    ("pivot_to_spindle", "pivot-to-spindle distance"),
                    ("effective_length", "effective length"),
                    ("overhang", "overhang"),
                    ("tracking_force", "tracking force"),
                    ("print_bar_x", "check bar across"),
                    ("print_bar_y", "check bar along"),
                    ("speed_error", "speed error"),
                    ("wow_flutter_weighted_2sigma", "wow and flutter, weighted, 2 sigma"),
                    (
                        "wow_flutter_weighted_2sigma_without_eccentricity",
                        "wow and flutter, weighted, 2 sigma, without eccentricity",
                    ),
                    ("wow_flutter_weighted_quasi_peak", "wow and flutter, weighted, quasi-peak"),
                    (
                        "wow_flutter_weighted_quasi_peak_without_eccentricity",
                        "wow and flutter, weighted, quasi-peak, without eccentricity",
                    ),
                    ("wow_flutter_unweighted_2sigma", "wow and flutter, unweighted, 2 sigma"),
                    (
                        "wow_flutter_unweighted_2sigma_without_eccentricity",
                        "wow and flutter, unweighted, 2 sigma, without eccentricity",
                    ),
                    ("eccentricity", "record off centre by"),
                    ("crosstalk_left_into_right", "crosstalk, left into right"),
                    ("crosstalk_right_into_left", "crosstalk, right into left"),
                    ("azimuth_rotation", "azimuth rotation"),
                    ("crosstalk_leak", "leak that no rotation mends"),
                    ("crosstalk_at_best_azimuth", "crosstalk left at the best azimuth"),
                    ("channel_balance", "channel balance, left over right"),
                    ("effective_length_error", "effective length error"),
                    ("zenith_error", "zenith error"),
                    ("vertical_tracking_angle_error", "vertical tracking angle error"),
                    ("resonance_lateral", "lateral resonance"),
                    ("resonance_lateral_q", "Q of the lateral resonance"),
                    ("resonance_vertical", "vertical resonance"),
                    ("resonance_vertical_q", "Q of the vertical resonance"),
                    ("rumble_band_level", "noise in the rumble band, lateral"),
                    ("rumble_band_level_vertical", "noise in the rumble band, vertical"),
                    ("rumble_band_level_without_hum", "noise in the rumble band, lateral, without hum"),
                    ("turn_synchronous_noise", "part of it that repeats each turn"),
                    ("weighted_noise_level", "noise through the loaded weighting, lateral"),
                    ("tracking_ability_left", "left channel breaks down at"),
                    ("tracking_ability_right", "right channel breaks down at"),
                ],
                max_length=64,
            ),
        ),
        migrations.CreateModel(
            name="Capture",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.CharField(max_length=40)),
                ("stage", models.CharField(choices=[("as found", "As Found"), ("as left", "As Left")], max_length=12)),
                ("name", models.CharField(max_length=200)),
                ("size", models.PositiveBigIntegerField()),
                ("file_sha256", models.CharField(max_length=64)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="captures", to="jobbook.job"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="CaptureAnalysis",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("program", models.CharField(max_length=40)),
                ("result", models.JSONField(null=True)),
                ("refusal", models.TextField(blank=True)),
                ("pictures_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="capture_analyses", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="reading",
            name="analysis",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="readings",
                to="jobbook.captureanalysis",
            ),
        ),
        migrations.CreateModel(
            name="CaptureSheet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                (
                    "origin",
                    models.CharField(
                        choices=[("given", "Given"), ("bands moved by hand", "Moved"), ("analysed anew", "Repeated")],
                        max_length=24,
                    ),
                ),
                ("text", models.TextField()),
                ("text_sha256", models.CharField(max_length=64)),
                (
                    "capture",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sheets", to="jobbook.capture"
                    ),
                ),
                (
                    "choice",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="jobbook.targetchoice",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="jobbook.job"),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="captureanalysis",
            name="sheet",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="analysis", to="jobbook.capturesheet"
            ),
        ),
        migrations.AddConstraint(
            model_name="capture",
            constraint=models.UniqueConstraint(fields=("job", "number"), name="one_capture_per_number"),
        ),
        migrations.RunPython(make_triggers, migrations.RunPython.noop),
    )
