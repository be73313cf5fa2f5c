"""From the readings of a job to what the joint estimate weighs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.repeats import joined_repeats
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.gauges.arc_trace import TraceReading, bearing_on_arc_deg, fit_trace, trace_dimensions
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Reading, TargetChoice
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.stretches import READ_AS_THEY_ARE, Stretch
from groovewright.measurement.quantity import Quantity, Source

Kind = Reading.Kind


def single_observations(record: JobRecord, stretch: Stretch, targets: SettingTargets) -> list[Observation]:
    """Return the readings of a stretch that are used one by one, whether typed or shown by a capture.

    Repeats that do not say how well they repeat are joined, with their scatter.
    """
    single = [
        Observation(
            reading.kind,
            _quantity(reading, record, targets),
            stretch.order,
            label_of(reading, stretch),
            None if reading.radius_mm is None else float(reading.radius_mm),
        )
        for reading in stretch.readings
        if reading.kind in READ_AS_THEY_ARE
    ]
    return joined_repeats(single)


def label_of(reading: Reading, stretch: Stretch) -> str:
    """Return what tells a reading from others: its kind, when it was read, and with what."""
    radius = "" if reading.radius_mm is None else f" at {reading.radius_mm:g} mm"
    if reading.analysis is not None:
        gauge = f", {reading.analysis.sheet.capture}"
    else:
        gauge = "" if reading.gauge is None else f", {reading.gauge}"
    return f"{Reading.Kind(reading.kind).label}{radius} {stretch.name}{gauge}"


def trace_observations(stretch: Stretch) -> tuple[list[Observation], list[str]]:
    """Return effective length and distance as each arc trace of a stretch tells them, and why one tells nothing."""
    traces: dict[tuple[str, int], list[Reading]] = defaultdict(list)
    for reading in stretch.readings:
        if reading.kind == Kind.ARC_TRACE and reading.plate is not None:
            traces[reading.plate.number, reading.laying or 1].append(reading)
    found: list[Observation] = []
    notes: list[str] = []
    for (number, laying), readings in traces.items():
        name = f"arc trace {stretch.name}, plate {number}" + (f", laid on anew {laying}" if laying > 1 else "")
        try:
            length, distance = _trace(readings)
        except ValueError as refusal:
            notes.append(f"The {name} is not used: {refusal}.")
            continue
        found.append(Observation("effective_length", length, stretch.order, f"{name}: effective length"))
        found.append(Observation("pivot_to_spindle", distance, stretch.order, f"{name}: pivot-to-spindle distance"))
    return found, notes


def _trace(readings: Sequence[Reading]) -> tuple[Quantity, Quantity]:
    plate = request_from_record(readings[0].plate.request).geometry
    points = [
        TraceReading(
            float(bearing_on_arc_deg(reading.radius_mm, plate)) if reading.bearing_deg is None else reading.bearing_deg,
            reading.quantity,
        )
        for reading in readings
    ]
    return trace_dimensions(fit_trace(points, plate))


def unique_labels(observations: Iterable[Observation]) -> tuple[Observation, ...]:
    """Return the observations with a label of their own each, and with sources that mean the same in all."""
    seen: Counter[str] = Counter()
    named = []
    for observation in observations:
        seen[observation.label] += 1
        count = seen[observation.label]
        label = observation.label if count == 1 else f"{observation.label}, reading {count}"
        named.append(replace(observation, label=label))
    known: dict[str, Source] = {}
    for observation in named:
        for source in observation.quantity.components or {}:
            other = known.setdefault(source.label, source)
            # One calibration is judged anew with every set of readings: its error is one, and the least is known of it.
            if source.degrees_of_freedom < other.degrees_of_freedom:
                known[source.label] = source
    return tuple(replace(observation, quantity=_with_sources(observation.quantity, known)) for observation in named)


def _with_sources(quantity: Quantity, known: dict[str, Source]) -> Quantity:
    if quantity.components is None:
        return quantity
    return replace(quantity, components={known[source.label]: part for source, part in quantity.components.items()})


def _quantity(reading: Reading, record: JobRecord, targets: SettingTargets) -> Quantity:
    quantity: Quantity = reading.quantity
    if reading.analysis is None:
        then = _choice_at(reading, record)
    else:
        sheet = reading.analysis.sheet
        then = next((choice for choice in record.all_choices if choice.pk == sheet.choice_id), None)
        quantity = _named_after(quantity, str(sheet.capture))
    return replace(quantity, value=quantity.value + _change_of_target(reading, then, record.choice, targets))


def _named_after(quantity: Quantity, capture: str) -> Quantity:
    """Return what a capture showed with its noise named after it, for two captures of one file name have two noises."""
    if quantity.components is None:
        return quantity
    return replace(
        quantity,
        components={
            replace(source, label=f"{source.label}, {capture}") if "noise" in source.label else source: part
            for source, part in quantity.components.items()
        },
    )


def _choice_at(reading: Reading, record: JobRecord) -> TargetChoice | None:
    earlier = [choice for choice in record.all_choices if choice.recorded_at <= reading.recorded_at]
    return earlier[-1] if earlier else record.choice


def _change_of_target(
    reading: Reading, then: TargetChoice | None, now: TargetChoice | None, targets: SettingTargets
) -> float:
    """Return what turns an error from the targets of its time into one from those that stand now."""
    of_target = {
        Kind.EFFECTIVE_LENGTH_ERROR: ("effective_length", targets.length_slope),
        Kind.ZENITH_ERROR: ("offset_angle", targets.offset_slope_deg_per_mm),
    }.get(reading.kind)
    if of_target is None or then is None or now is None or then.pk == now.pk:
        return 0.0
    dimension, slope = of_target
    before, after = getattr(then, dimension), getattr(now, dimension)
    if before is None or then.pivot_to_spindle is None:
        return 0.0
    # The same rule for a distance that was measured again is the same target for the distance that is true.
    moved_mm = then.pivot_to_spindle.value - now.pivot_to_spindle.value
    return float(before.value - after.value - slope * moved_mm)
