"""What a capture is compared with: the targets, and how they move with the pivot-to-spindle distance."""

from __future__ import annotations

from dataclasses import replace

from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import choose_targets
from groovewright.testtone.capture.capture_task import TargetShift


def target_shift(request: TargetRequest) -> TargetShift | None:
    """Return how the targets of a request move with its distance.

    None for an arm without a pivot, and where the arm's limits leave no target 1 mm farther out.
    """
    if request.pivot_to_spindle is None:
        return None
    distance = request.pivot_to_spindle
    try:
        targets = choose_targets(replace(request, pivot_to_spindle=replace(distance, value=distance.value + 1.0)))
    except ValueError:
        return None
    return None if targets.geometry is None else TargetShift(distance, targets.geometry)
