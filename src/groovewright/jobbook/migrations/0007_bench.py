import uuid

import django.db.models.deletion
from django.db import migrations, models

from groovewright.jobbook.append_only import protect, unprotected_tables

CHANGED_TABLES = ("jobbook_reading", "jobbook_intake", "jobbook_arm")


def make_triggers(apps, schema_editor):
    # Where the database makes a changed table anew, its triggers go with the old one.
    lacking = unprotected_tables(schema_editor.connection, CHANGED_TABLES)
    protect(schema_editor.connection, ["jobbook_adjustmentmade", *lacking])


class Migration(migrations.Migration):
    dependencies = (("jobbook", "0006_captures"),)

    operations = (
        migrations.AddField(
            model_name="arm",
            name="adjuster_limits",
            field=models.JSONField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="arm",
            name="build",
            field=models.JSONField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="intake",
            name="stylus_hours",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="intake",
            name="tolerances",
            field=models.JSONField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="bearing_deg",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="laying",
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="radius_mm",
            field=models.FloatField(blank=True, null=True),
        ),
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
                    ("offset_angle", "offset angle"),
                    ("null_angle", "tracking error at a radius"),
                    ("arc_trace", "distance beside the arc"),
                    ("stylus_rake_angle", "stylus rake angle"),
                    ("vertical_tracking_angle", "vertical tracking angle"),
                    ("compensation_force", "side-force compensation"),
                    ("side_force_rest", "side force less its compensation"),
                    ("start_force_outward", "force at start of motion, outward"),
                    ("start_force_inward", "force at start of motion, inward"),
                    ("friction_coefficient", "friction coefficient"),
                ],
                max_length=64,
            ),
        ),
        migrations.CreateModel(
            name="AdjustmentMade",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("amounts", models.JSONField()),
                ("uncertainties", models.JSONField()),
                ("text", models.TextField(blank=True)),
                ("note", models.TextField(blank=True)),
                ("withdrawn", models.BooleanField(default=False)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.adjustmentmade",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="adjustments", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "verbose_name": "move",
            },
        ),
        migrations.RunPython(make_triggers, migrations.RunPython.noop),
    )
