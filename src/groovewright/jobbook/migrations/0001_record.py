# ruff: noqa: RUF012
import uuid

import django.db.models.deletion
from django.db import migrations, models

import groovewright.jobbook.models.record


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Owner",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.PositiveIntegerField(unique=True)),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Cartridge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("description", models.CharField(max_length=300)),
                ("tracking_force_lower", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("tracking_force_upper", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("compliance", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("compliance_at", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("mass", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("fasteners_mass", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("recommended_loading", models.CharField(blank=True, max_length=200)),
                ("stylus_hours", models.FloatField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.cartridge",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Deck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.PositiveIntegerField(db_index=True)),
                ("description", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.deck",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="decks", to="jobbook.owner"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Arm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("description", models.CharField(max_length=300)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("offset", "Offset"),
                            ("straight underhung", "Straight Underhung"),
                            ("tangential", "Tangential"),
                        ],
                        default="offset",
                        max_length=24,
                    ),
                ),
                ("effective_mass", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("drawn_pivot_to_spindle", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("drawn_effective_length", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("drawn_offset_angle", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("drawn_overhang", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("effective_length_fixed", models.BooleanField(default=False)),
                ("effective_length_lower_mm", models.FloatField(blank=True, null=True)),
                ("effective_length_upper_mm", models.FloatField(blank=True, null=True)),
                ("offset_angle_fixed", models.BooleanField(default=False)),
                ("offset_angle_lower_deg", models.FloatField(blank=True, null=True)),
                ("offset_angle_upper_deg", models.FloatField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.arm",
                    ),
                ),
                (
                    "deck",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="arms", to="jobbook.deck"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Gauge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("description", models.CharField(max_length=300)),
                ("certificate", models.CharField(blank=True, max_length=200)),
                ("standard_uncertainty", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.gauge",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Job",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.PositiveIntegerField(unique=True)),
                ("opened", models.DateField()),
                ("complaint", models.TextField(blank=True)),
                (
                    "deck",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="jobs", to="jobbook.deck"
                    ),
                ),
            ],
            options={
                "ordering": ("-number",),
            },
        ),
        migrations.CreateModel(
            name="IssuedPlate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.CharField(max_length=40)),
                ("kind", models.CharField(max_length=16)),
                ("request", models.JSONField()),
                ("paper", models.CharField(max_length=16)),
                ("scale_x", models.FloatField()),
                ("scale_y", models.FloatField()),
                ("files", models.JSONField()),
                (
                    "replaces",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replaced_by",
                        to="jobbook.issuedplate",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="plates", to="jobbook.job"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Fault",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                (
                    "found",
                    models.CharField(
                        choices=[("as found", "As Found"), ("as left", "As Left")], default="as found", max_length=12
                    ),
                ),
                ("text", models.TextField()),
                ("withdrawn", models.BooleanField(default=False)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.fault",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="faults", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Attachment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("name", models.CharField(max_length=200)),
                ("media_type", models.CharField(max_length=100)),
                ("size", models.PositiveBigIntegerField()),
                ("file_sha256", models.CharField(max_length=64)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="attachments", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ArchiveImport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("archive_sha256", models.CharField(max_length=64)),
                ("number_there", models.PositiveIntegerField()),
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="archive_import", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="LedgerEntry",
            fields=[
                ("sequence", models.BigIntegerField(primary_key=True, serialize=False)),
                ("table", models.CharField(max_length=64)),
                ("row_key", models.BigIntegerField()),
                ("content_digest", models.CharField(max_length=64)),
                ("previous_digest", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64)),
            ],
            options={
                "db_table": "jobbook_ledger",
                "constraints": [models.UniqueConstraint(fields=("table", "row_key"), name="one_ledger_line_per_row")],
            },
        ),
        migrations.CreateModel(
            name="OwnerDetails",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(blank=True, max_length=200)),
                ("contact", models.TextField(blank=True)),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="details", to="jobbook.owner"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "owner details",
            },
        ),
        migrations.CreateModel(
            name="OwnerDetailsChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("what", models.CharField(choices=[("replaced", "Replaced"), ("erased", "Erased")], max_length=16)),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="details_changes", to="jobbook.owner"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Scale",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("description", models.CharField(max_length=300)),
                ("resolution", groovewright.jobbook.models.record.QuantityField()),
                ("repeatability", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("platform_height", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.scale",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("pivot_to_spindle", "pivot-to-spindle distance"),
                            ("effective_length", "effective length"),
                            ("overhang", "overhang"),
                            ("tracking_force", "tracking force"),
                            ("print_bar_x", "check bar across"),
                            ("print_bar_y", "check bar along"),
                        ],
                        max_length=24,
                    ),
                ),
                ("stage", models.CharField(choices=[("as found", "As Found"), ("as left", "As Left")], max_length=12)),
                (
                    "place",
                    models.CharField(
                        blank=True, choices=[("outer", "Outer"), ("middle", "Middle"), ("inner", "Inner")], max_length=8
                    ),
                ),
                (
                    "surface",
                    models.CharField(
                        choices=[("platter", "Platter"), ("record", "Record")], default="platter", max_length=8
                    ),
                ),
                ("text", models.CharField(blank=True, max_length=200)),
                ("quantity", groovewright.jobbook.models.record.QuantityField(null=True)),
                ("platform_height", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                ("withdrawn", models.BooleanField(default=False)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.reading",
                    ),
                ),
                (
                    "gauge",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="jobbook.gauge",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="readings", to="jobbook.job"
                    ),
                ),
                (
                    "plate",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="jobbook.issuedplate",
                    ),
                ),
                (
                    "scale",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="jobbook.scale",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ScaleCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                (
                    "when",
                    models.CharField(
                        choices=[("before", "Before"), ("after", "After")], default="before", max_length=8
                    ),
                ),
                ("readings", models.JSONField()),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="jobbook.scalecheck",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="scale_checks",
                        to="jobbook.job",
                    ),
                ),
                (
                    "scale",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="jobbook.scale"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="TargetChoice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("criterion", models.CharField(max_length=40)),
                (
                    "arm_kind",
                    models.CharField(
                        choices=[
                            ("offset", "Offset"),
                            ("straight underhung", "Straight Underhung"),
                            ("tangential", "Tangential"),
                        ],
                        max_length=24,
                    ),
                ),
                ("pivot_to_spindle", groovewright.jobbook.models.record.QuantityField()),
                ("innermost_mm", models.FloatField()),
                ("outermost_mm", models.FloatField()),
                ("hold_effective_length", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("hold_offset_angle", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("effective_length_limits_mm", models.JSONField(blank=True, null=True)),
                ("offset_angle_limits_deg", models.JSONField(blank=True, null=True)),
                ("peak_velocity_cm_s", models.FloatField()),
                ("speed_rpm", models.FloatField()),
                ("effective_length", groovewright.jobbook.models.record.QuantityField(null=True)),
                ("overhang", groovewright.jobbook.models.record.QuantityField(null=True)),
                ("offset_angle", groovewright.jobbook.models.record.QuantityField(null=True)),
                ("linear_offset", groovewright.jobbook.models.record.QuantityField(null=True)),
                ("null_radii", models.JSONField()),
                ("peak_tracking_error", groovewright.jobbook.models.record.QuantityField()),
                ("peak_distortion", groovewright.jobbook.models.record.QuantityField()),
                ("rms_distortion", groovewright.jobbook.models.record.QuantityField()),
                ("notes", models.JSONField(default=list)),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="target_choices", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="issuedplate",
            name="choice",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="plates",
                to="jobbook.targetchoice",
            ),
        ),
        migrations.CreateModel(
            name="IssuedReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("number", models.CharField(max_length=40)),
                ("file_sha256", models.CharField(max_length=64)),
                ("assessment", models.JSONField()),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="reports", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("job", "number"), name="one_report_per_number")],
            },
        ),
        migrations.CreateModel(
            name="Intake",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("uid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_zone", models.CharField(max_length=64)),
                ("version", models.PositiveIntegerField()),
                ("groove_disc", models.CharField(blank=True, max_length=40)),
                ("groove_standard", models.CharField(blank=True, max_length=80)),
                ("innermost_mm", models.FloatField()),
                ("outermost_mm", models.FloatField()),
                ("record_thickness", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("height_slope", groovewright.jobbook.models.record.QuantityField(blank=True, null=True)),
                ("mistracking_reported", models.BooleanField(default=False)),
                ("speed_rpm", models.FloatField()),
                ("length_tolerance_lower_mm", models.FloatField()),
                ("length_tolerance_upper_mm", models.FloatField()),
                ("decision_rule", models.CharField(max_length=40)),
                ("guard_factor", models.FloatField()),
                (
                    "arm",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="jobbook.arm",
                    ),
                ),
                (
                    "cartridge",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="jobbook.cartridge",
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="intakes", to="jobbook.job"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("job", "version"), name="one_intake_per_version")],
            },
        ),
        migrations.AddConstraint(
            model_name="issuedplate",
            constraint=models.UniqueConstraint(fields=("job", "number"), name="one_plate_per_number"),
        ),
    ]
