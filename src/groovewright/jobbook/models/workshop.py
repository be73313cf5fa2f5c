"""What a workshop knows beyond one job: its letterhead, owners, decks, arms, cartridges, gauges and scales."""

from __future__ import annotations

from django.db import models

from groovewright.jobbook.models.record import Correctable, QuantityField, Record


class Letterhead(Record):
    """The head of reports: the workshop's name, its address and its own logo. The newest row counts."""

    name = models.CharField(max_length=200)
    # A line each, as it is printed.
    address = models.TextField(blank=True)
    logo_sha256 = models.CharField(max_length=64, blank=True)
    logo_media_type = models.CharField(max_length=100, blank=True)

    def __str__(self) -> str:
        return self.name


class Owner(Record):
    """An owner as the record knows one: a number, and nothing that tells who it is."""

    number = models.PositiveIntegerField(unique=True)

    def __str__(self) -> str:
        return f"owner {self.number}"

    @property
    def name(self) -> str:
        """The owner's name, or the number when no details are kept."""
        details = getattr(self, "details", None)
        return details.name if details and details.name else f"Owner {self.number}"


class OwnerDetails(models.Model):
    """Who an owner is. The one table whose rows may be replaced or erased, at the owner's wish."""

    owner = models.OneToOneField(Owner, on_delete=models.PROTECT, related_name="details")
    name = models.CharField(max_length=200, blank=True)
    contact = models.TextField(blank=True)

    class Meta:
        """Plural."""

        verbose_name_plural = "owner details"

    def __str__(self) -> str:
        return f"details of owner {self.owner_id}"


class OwnerDetailsChange(Record):
    """That an owner's details were replaced or erased; never what they were."""

    class What(models.TextChoices):
        """What happened to the details."""

        REPLACED = "replaced"
        ERASED = "erased"

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="details_changes")
    what = models.CharField(max_length=16, choices=What)

    def __str__(self) -> str:
        return f"details of owner {self.owner_id} {self.what}"


class Deck(Correctable):
    """A record player as it came in, described by whoever took it in."""

    number = models.PositiveIntegerField(db_index=True)
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="decks")
    description = models.CharField(max_length=300)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.description


class Arm(Correctable):
    """A tonearm: what it is, what its maker's drawing says, and what its headshell allows."""

    class Kind(models.TextChoices):
        """How the arm carries the cartridge over the record."""

        OFFSET = "offset"
        STRAIGHT_UNDERHUNG = "straight underhung"
        TANGENTIAL = "tangential"

    deck = models.ForeignKey(Deck, on_delete=models.PROTECT, related_name="arms")
    description = models.CharField(max_length=300)
    kind = models.CharField(max_length=24, choices=Kind, default=Kind.OFFSET)
    effective_mass = QuantityField(null=True, blank=True)
    drawn_pivot_to_spindle = QuantityField(null=True, blank=True)
    drawn_effective_length = QuantityField(null=True, blank=True)
    drawn_offset_angle = QuantityField(null=True, blank=True)
    drawn_overhang = QuantityField(null=True, blank=True)
    # Fixed: the headshell has no slots, or no turn; the drawn value is then what it is. Limits: how far it goes.
    effective_length_fixed = models.BooleanField(default=False)
    effective_length_lower_mm = models.FloatField(null=True, blank=True)
    effective_length_upper_mm = models.FloatField(null=True, blank=True)
    offset_angle_fixed = models.BooleanField(default=False)
    offset_angle_lower_deg = models.FloatField(null=True, blank=True)
    offset_angle_upper_deg = models.FloatField(null=True, blank=True)
    # What is known of how it is built, by the names of `ArmBuild`; what is absent is taken as usual.
    build = models.JSONField(null=True, blank=True)
    # Adjuster to lowest and highest, from where it stood as found; absent where nothing is known to bound it.
    adjuster_limits = models.JSONField(null=True, blank=True)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.description

    @property
    def effective_length_limits_mm(self) -> tuple[float, float] | None:
        """How far the headshell lets the effective length go; None if nothing is known to bound it."""
        return _limits(self.effective_length_lower_mm, self.effective_length_upper_mm)

    @property
    def offset_angle_limits_deg(self) -> tuple[float, float] | None:
        """How far the headshell lets the offset angle go; None if nothing is known to bound it."""
        return _limits(self.offset_angle_lower_deg, self.offset_angle_upper_deg)


def _limits(lower: float | None, upper: float | None) -> tuple[float, float] | None:
    return None if lower is None or upper is None else (lower, upper)


class Cartridge(Correctable):
    """A cartridge and what its maker says of it."""

    description = models.CharField(max_length=300)
    tracking_force_lower = QuantityField(null=True, blank=True)
    tracking_force_upper = QuantityField(null=True, blank=True)
    compliance = QuantityField(null=True, blank=True)
    compliance_at = QuantityField(null=True, blank=True)
    mass = QuantityField(null=True, blank=True)
    fasteners_mass = QuantityField(null=True, blank=True)
    recommended_loading = models.CharField(max_length=200, blank=True)
    stylus_hours = models.FloatField(null=True, blank=True)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.description


class Gauge(Correctable):
    """Something that lengths and angles are read with: a rule, a caliper, a plate."""

    description = models.CharField(max_length=300)
    certificate = models.CharField(max_length=200, blank=True)
    standard_uncertainty = QuantityField(null=True, blank=True)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.description


class Scale(Correctable):
    """A scale for the tracking force: last step of its display, and the repeatability its maker states, in mN."""

    description = models.CharField(max_length=300)
    resolution = QuantityField()
    repeatability = QuantityField(null=True, blank=True)
    platform_height = QuantityField(null=True, blank=True)
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.description
