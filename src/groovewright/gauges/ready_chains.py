"""Gauges ready to be compared. Their plays are common practice without a source: put in your own.

Every gauge is told apart by what it cannot see. None of them knows where the pivot is but by the joint that says how
well it was found.
"""

from __future__ import annotations

from groovewright.gauges.gauge_chain import BearsOn, DistributionName, GaugeChain, GivenAs, Joint, joint_of


def single_point_gauge() -> GaugeChain:
    """Return a gauge with one mark, aimed at the pivot by sight; it proves nothing of where the pivot is."""
    return GaugeChain(
        name="Single-point gauge",
        about="One mark at the outer null with lines for the cantilever, turned about the spindle until its aiming "
        "line seems to meet the pivot. Nothing touches the pivot, so how far away it is stays unproven.",
        sets_by="mark",
        mark="outer null",
        joints=(
            _play("Hole on the spindle, outward", "stylus_radius", 0.1),
            _play("Hole on the spindle, across", "stylus_across", 0.1),
            _within("Mark as printed", "stylus_radius", 0.1),
            _within("Pivot's distance, not proven", "pivot_to_spindle", 1.0),
            _seen("Aim at the pivot by sight", "pivot_across", 1.0),
            _seen("Stylus on the mark, outward", "stylus_radius", 0.1),
            _seen("Stylus on the mark, across", "stylus_across", 0.1),
            _seen("Cantilever along the lines", "offset_angle", 0.2),
        ),
    )


def beam_gauge() -> GaugeChain:
    """Return a beam from the spindle to the pivot: bush, beam, pointer and stylus block, joined at three places."""
    return GaugeChain(
        name="Beam",
        about="Four parts, three joints: a bush on the spindle, a beam, a pointer that sits on the pivot, and a block "
        "with the stylus's mark and the cantilever's lines. The mark lies beyond the spindle by the overhang.",
        sets_by="mark",
        mark="overhang",
        joints=(
            _play("Bush on the spindle, along", "pivot_to_spindle", 0.05),
            _play("Bush on the spindle, across", "stylus_across", 0.05),
            _play("Pointer on the pivot, along", "effective_length", 0.3),
            _play("Pointer on the pivot, across", "pivot_across", 0.3),
            _play("Block on the beam, along", "stylus_radius", 0.1),
            Joint("Block on the beam, turning", 0.05, "offset_angle", lever_mm=30.0),
            _within("Graduation of the beam", "pivot_to_spindle", 0.1, "triangular"),
            _seen("Stylus on the mark, along", "stylus_radius", 0.1),
            _seen("Cantilever along the lines", "offset_angle", 0.2),
        ),
    )


def arc_trace_gauge(eye_mm: float = 0.1, *, places: int = 9) -> GaugeChain:
    """Return an arc that the stylus follows, read by an eye of given standard uncertainty. [mm]

    Parameters
    ----------
    eye_mm : float
        Standard uncertainty of where the stylus stands beside the arc. [mm]
    places : int
        How many readings, spaced evenly over the groove range.
    """
    return GaugeChain(
        name="Arc trace",
        about="The stylus is led over the groove range and read beside the arc. The trace itself hardly fixes where "
        "the pivot is, so a direct measurement of its distance is joined to it.",
        sets_by="trace",
        mark="outer null",
        places=places,
        joints=(
            _seen("Stylus beside the arc", "trace_reading", eye_mm),
            _seen("Pivot's distance, measured", "pivot_to_spindle", 0.3),
            _within("Print scale", "print_scale", 0.1),
            _play("Hole on the spindle", "effective_length", 0.1),
            _seen("Cantilever along the lines", "offset_angle", 0.2),
        ),
    )


def two_null_plate(scale_percent: float = 0.0, *, scale_uncertainty_percent: float = 0.05) -> GaugeChain:
    """Return a plate with both nulls, its print scale measured and what is known of it left on. [%]

    Parameters
    ----------
    scale_percent : float
        How much larger than meant the plate is, measured and not taken off. [%]
    scale_uncertainty_percent : float
        Standard uncertainty of that measurement. [%]
    """
    scale = joint_of(
        "Print scale, measured",
        scale_uncertainty_percent,
        "print_scale",
        given_as="standard uncertainty",
        distribution="normal",
        nominal=scale_percent,
    )
    return GaugeChain(
        name="Two-null plate",
        about="The cantilever is set along the lines at both nulls, and the platter turns freely. The null radii are "
        "all that it gives: where the pivot is plays hardly any part, and the eye's two angles decide.",
        sets_by="two nulls",
        joints=(
            scale,
            _play("Hole on the spindle at the inner null", "inner_null_radius", 0.1),
            _play("Hole on the spindle at the outer null", "outer_null_radius", 0.1),
            _within("Pivot's distance, not proven", "pivot_to_spindle", 1.0),
            _seen("Stylus on the inner null", "inner_null_radius", 0.1),
            _seen("Stylus on the outer null", "outer_null_radius", 0.1),
            _seen("Cantilever along the inner lines", "inner_null_angle", 0.2),
            _seen("Cantilever along the outer lines", "outer_null_angle", 0.2),
        ),
    )


def _play(name: str, bears_on: BearsOn, clearance: float) -> Joint:
    return _joint(name, bears_on, clearance, "clearance", "rectangular")


def _within(name: str, bears_on: BearsOn, tolerance: float, distribution: DistributionName = "rectangular") -> Joint:
    return _joint(name, bears_on, tolerance, "tolerance", distribution)


def _seen(name: str, bears_on: BearsOn, standard_uncertainty: float) -> Joint:
    return _joint(name, bears_on, standard_uncertainty, "standard uncertainty", "normal")


def _joint(name: str, bears_on: BearsOn, amount: float, given_as: GivenAs, distribution: DistributionName) -> Joint:
    return joint_of(name, amount, bears_on, given_as=given_as, distribution=distribution)


READY_CHAINS: dict[str, GaugeChain] = {
    "single-point": single_point_gauge(),
    "beam": beam_gauge(),
    "arc-trace": arc_trace_gauge(),
    "two-null-plate": two_null_plate(),
}
