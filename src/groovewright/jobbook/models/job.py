"""A job: what was taken in, chosen, read, issued, found faulty and handed over."""

from __future__ import annotations

from django.db import models

from groovewright.jobbook.models.record import Correctable, QuantityField, Record
from groovewright.jobbook.models.workshop import Arm, Cartridge, Deck, Gauge, Scale


class Stage(models.TextChoices):
    """Whether a reading tells how the deck came or how it goes."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


class Job(Record):
    """One visit of one deck to the bench."""

    number = models.PositiveIntegerField(unique=True)
    deck = models.ForeignKey(Deck, on_delete=models.PROTECT, related_name="jobs")
    opened = models.DateField()
    complaint = models.TextField(blank=True)

    class Meta:
        """Newest first."""

        ordering = ("-number",)

    def __str__(self) -> str:
        return f"job {self.number}"


class ComplaintCorrection(Record):
    """The complaint of a job as it was put later. The newest stands; the first is the job's own."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="complaint_corrections")
    text = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"complaint of job {self.job_id}"


class Intake(Record):
    """The facts a job rests on. A change is a new version; the highest version stands."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="intakes")
    version = models.PositiveIntegerField()
    arm = models.ForeignKey(Arm, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    cartridge = models.ForeignKey(Cartridge, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    # Disc and standard are empty when the specialist gave radii of their own.
    groove_disc = models.CharField(max_length=40, blank=True)
    groove_standard = models.CharField(max_length=80, blank=True)
    innermost_mm = models.FloatField()
    outermost_mm = models.FloatField()
    record_thickness = QuantityField(null=True, blank=True)
    height_slope = QuantityField(null=True, blank=True)
    mistracking_reported = models.BooleanField(default=False)
    speed_rpm = models.FloatField()
    length_tolerance_lower_mm = models.FloatField()
    length_tolerance_upper_mm = models.FloatField()
    decision_rule = models.CharField(max_length=40)
    guard_factor = models.FloatField()
    # None in rows from before the risk was kept beside the guard band.
    maximum_risk = models.FloatField(null=True, blank=True)
    # Setting to `aim`, `lower` and `upper`, in the setting's unit, each None where the usual holds. The limits of the
    # effective length are the two columns above.
    tolerances = models.JSONField(null=True, blank=True)
    # That the stylus had played when the deck came in.
    stylus_hours = models.FloatField(null=True, blank=True)

    class Meta:
        """A version stands once in a job."""

        constraints = (models.UniqueConstraint(fields=["job", "version"], name="one_intake_per_version"),)

    def __str__(self) -> str:
        return f"intake {self.version} of job {self.job_id}"


class TargetChoice(Record):
    """The targets chosen for a job, with what they were chosen under. The newest stands."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="target_choices")
    criterion = models.CharField(max_length=40)
    arm_kind = models.CharField(max_length=24, choices=Arm.Kind)
    # Like the lengths below, None for a tangential arm, which has no pivot.
    pivot_to_spindle = QuantityField(null=True)
    innermost_mm = models.FloatField()
    outermost_mm = models.FloatField()
    hold_effective_length = QuantityField(null=True, blank=True)
    hold_offset_angle = QuantityField(null=True, blank=True)
    effective_length_limits_mm = models.JSONField(null=True, blank=True)
    offset_angle_limits_deg = models.JSONField(null=True, blank=True)
    peak_velocity_cm_s = models.FloatField()
    speed_rpm = models.FloatField()
    effective_length = QuantityField(null=True)
    overhang = QuantityField(null=True)
    offset_angle = QuantityField(null=True)
    linear_offset = QuantityField(null=True)
    null_radii = models.JSONField()
    peak_tracking_error = QuantityField()
    peak_distortion = QuantityField()
    rms_distortion = QuantityField()
    notes = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"targets of job {self.job_id}"


class ScaleCheck(Correctable):
    """A scale read with known weights, before or after the readings of a job.

    `readings` is a list of loads on the pan, one object each: `weights` (a list of name, mass as a quantity record
    and basis, empty for the empty pan), `indication_mn`, and `text` as it was typed.
    """

    class When(models.TextChoices):
        """Before or after the readings."""

        BEFORE = "before"
        AFTER = "after"

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="checks")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="scale_checks")
    when = models.CharField(max_length=8, choices=When, default=When.BEFORE)
    readings = models.JSONField()
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"check of {self.scale} {self.when}"


class IssuedPlate(Record):
    """A plate that was drawn and given a number. A corrected plate names the one it replaces."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="plates")
    number = models.CharField(max_length=40)
    kind = models.CharField(max_length=16)
    choice = models.ForeignKey(TargetChoice, null=True, blank=True, on_delete=models.PROTECT, related_name="plates")
    request = models.JSONField()
    paper = models.CharField(max_length=16)
    scale_x = models.FloatField()
    scale_y = models.FloatField()
    replaces = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    # Format to content hash: {"pdf": "...", "svg": "...", "dxf": "..."}.
    files = models.JSONField()

    class Meta:
        """A number stands once in a job."""

        constraints = (models.UniqueConstraint(fields=["job", "number"], name="one_plate_per_number"),)

    def __str__(self) -> str:
        return f"plate {self.number}"


class Reading(Correctable):
    """One reading: the text that was typed and the quantity it stands for.

    A reading that should never have been made is withdrawn: a correction without a quantity.
    """

    class Kind(models.TextChoices):
        """What was read."""

        PIVOT_TO_SPINDLE = "pivot_to_spindle", "pivot-to-spindle distance"
        EFFECTIVE_LENGTH = "effective_length", "effective length"
        OVERHANG = "overhang", "overhang"
        TRACKING_FORCE = "tracking_force", "tracking force"
        PRINT_BAR_X = "print_bar_x", "check bar across"
        PRINT_BAR_Y = "print_bar_y", "check bar along"
        # From here on what a capture shows, by the names that the analysis gives it.
        SPEED_ERROR = "speed_error", "speed error"
        WOW_FLUTTER_WEIGHTED_2SIGMA = "wow_flutter_weighted_2sigma", "wow and flutter, weighted, 2 sigma"
        WOW_FLUTTER_WEIGHTED_2SIGMA_WITHOUT_ECCENTRICITY = (
            "wow_flutter_weighted_2sigma_without_eccentricity",
            "wow and flutter, weighted, 2 sigma, without eccentricity",
        )
        WOW_FLUTTER_WEIGHTED_QUASI_PEAK = "wow_flutter_weighted_quasi_peak", "wow and flutter, weighted, quasi-peak"
        WOW_FLUTTER_WEIGHTED_QUASI_PEAK_WITHOUT_ECCENTRICITY = (
            "wow_flutter_weighted_quasi_peak_without_eccentricity",
            "wow and flutter, weighted, quasi-peak, without eccentricity",
        )
        WOW_FLUTTER_UNWEIGHTED_2SIGMA = "wow_flutter_unweighted_2sigma", "wow and flutter, unweighted, 2 sigma"
        WOW_FLUTTER_UNWEIGHTED_2SIGMA_WITHOUT_ECCENTRICITY = (
            "wow_flutter_unweighted_2sigma_without_eccentricity",
            "wow and flutter, unweighted, 2 sigma, without eccentricity",
        )
        ECCENTRICITY = "eccentricity", "record off centre by"
        CROSSTALK_LEFT_INTO_RIGHT = "crosstalk_left_into_right", "crosstalk, left into right"
        CROSSTALK_RIGHT_INTO_LEFT = "crosstalk_right_into_left", "crosstalk, right into left"
        AZIMUTH_ROTATION = "azimuth_rotation", "azimuth rotation"
        CROSSTALK_LEAK = "crosstalk_leak", "leak that no rotation mends"
        CROSSTALK_AT_BEST_AZIMUTH = "crosstalk_at_best_azimuth", "crosstalk left at the best azimuth"
        CHANNEL_BALANCE = "channel_balance", "channel balance, left over right"
        EFFECTIVE_LENGTH_ERROR = "effective_length_error", "effective length error"
        ZENITH_ERROR = "zenith_error", "zenith error"
        VERTICAL_TRACKING_ANGLE_ERROR = "vertical_tracking_angle_error", "vertical tracking angle error"
        RESONANCE_LATERAL = "resonance_lateral", "lateral resonance"
        RESONANCE_LATERAL_Q = "resonance_lateral_q", "Q of the lateral resonance"
        RESONANCE_VERTICAL = "resonance_vertical", "vertical resonance"
        RESONANCE_VERTICAL_Q = "resonance_vertical_q", "Q of the vertical resonance"
        RUMBLE_BAND_LEVEL = "rumble_band_level", "noise in the rumble band, lateral"
        RUMBLE_BAND_LEVEL_VERTICAL = "rumble_band_level_vertical", "noise in the rumble band, vertical"
        RUMBLE_BAND_LEVEL_WITHOUT_HUM = (
            "rumble_band_level_without_hum",
            "noise in the rumble band, lateral, without hum",
        )
        TURN_SYNCHRONOUS_NOISE = "turn_synchronous_noise", "part of it that repeats each turn"
        WEIGHTED_NOISE_LEVEL = "weighted_noise_level", "noise through the loaded weighting, lateral"
        TRACKING_ABILITY_LEFT = "tracking_ability_left", "left channel breaks down at"
        TRACKING_ABILITY_RIGHT = "tracking_ability_right", "right channel breaks down at"
        # From here on what the bench reads by hand besides. Azimuth rotation, zenith error, effective length error and
        # vertical tracking angle error may be typed too.
        OFFSET_ANGLE = "offset_angle", "offset angle"
        NULL_ANGLE = "null_angle", "tracking error at a radius"
        ARC_TRACE = "arc_trace", "distance beside the arc"
        STYLUS_RAKE_ANGLE = "stylus_rake_angle", "stylus rake angle"
        VERTICAL_TRACKING_ANGLE = "vertical_tracking_angle", "vertical tracking angle"
        COMPENSATION_FORCE = "compensation_force", "side-force compensation"
        SIDE_FORCE_REST = "side_force_rest", "side force less its compensation"
        START_FORCE_OUTWARD = "start_force_outward", "force at start of motion, outward"
        START_FORCE_INWARD = "start_force_inward", "force at start of motion, inward"
        FRICTION_COEFFICIENT = "friction_coefficient", "friction coefficient"

    class Place(models.TextChoices):
        """Where on the platter a force was read."""

        OUTER = "outer"
        MIDDLE = "middle"
        INNER = "inner"

    class Surface(models.TextChoices):
        """What the scale stood on."""

        PLATTER = "platter"
        RECORD = "record"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=64, choices=Kind)
    stage = models.CharField(max_length=12, choices=Stage)
    place = models.CharField(max_length=8, choices=Place, blank=True)
    surface = models.CharField(max_length=8, choices=Surface, default=Surface.PLATTER)
    # As typed; for a force the quantity is what the scale showed, not corrected by any check.
    text = models.CharField(max_length=200, blank=True)
    quantity = QuantityField(null=True)
    platform_height = QuantityField(null=True, blank=True)
    gauge = models.ForeignKey(Gauge, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    scale = models.ForeignKey(Scale, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    plate = models.ForeignKey(IssuedPlate, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    # What the reading was taken from, for kinds that captures show; it names recording and band sheet by their hash.
    analysis = models.ForeignKey(
        "jobbook.CaptureAnalysis", null=True, blank=True, on_delete=models.PROTECT, related_name="readings"
    )
    # Groove radius at which an angle or a side force was read, or an arc was traced.
    radius_mm = models.FloatField(null=True, blank=True)
    # Of an arc trace: where on the arc, seen from its centre, from the line to the spindle.
    bearing_deg = models.FloatField(null=True, blank=True)
    # Of an arc trace: which laying of the plate, for readings of one laying share its turn about the spindle.
    laying = models.PositiveIntegerField(null=True, blank=True)
    note = models.TextField(blank=True)
    withdrawn = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.text}"


class AdjustmentMade(Correctable):
    """A move that was made on the bench. Withdrawn the way a reading is.

    `amounts` and `uncertainties` go by adjuster, in the unit of its name; an adjuster that was not touched is absent.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="adjustments")
    amounts = models.JSONField()
    uncertainties = models.JSONField()
    # As typed, or as it was proposed.
    text = models.TextField(blank=True)
    note = models.TextField(blank=True)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        """Named as it is spoken of."""

        verbose_name = "move"

    def __str__(self) -> str:
        return self.text


class Fault(Correctable):
    """Something found faulty that setting up cannot mend. Withdrawn the way a reading is."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="faults")
    found = models.CharField(max_length=12, choices=Stage, default=Stage.AS_FOUND)
    text = models.TextField()
    withdrawn = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.text


class IssuedReport(Record):
    """A report that was handed over, with the verdicts it rests on."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="reports")
    number = models.CharField(max_length=40)
    file_sha256 = models.CharField(max_length=64)
    assessment = models.JSONField()

    class Meta:
        """A number stands once in a job."""

        constraints = (models.UniqueConstraint(fields=["job", "number"], name="one_report_per_number"),)

    def __str__(self) -> str:
        return f"report {self.number}"


class Attachment(Record):
    """A file that belongs to a job, kept under the hash of its content."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="attachments")
    name = models.CharField(max_length=200)
    media_type = models.CharField(max_length=100)
    size = models.PositiveBigIntegerField()
    file_sha256 = models.CharField(max_length=64)

    def __str__(self) -> str:
        return self.name


class ArchiveImport(Record):
    """That a job came from an archive, and from which."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="archive_import")
    archive_sha256 = models.CharField(max_length=64)
    number_there = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"job {self.job_id} came as job {self.number_there}"
