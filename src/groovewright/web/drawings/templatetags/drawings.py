"""Tags that draw: see the package's own words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache

from django import template
from django.utils.safestring import SafeString

from groovewright.tonearm.arm_state import Adjustments
from groovewright.web.drawings import folds, gauges, moves, readings, settings
from groovewright.web.drawings.drawing import Drawing

register = template.Library()


@lru_cache(maxsize=512)
def _rendered(drawing: Drawing) -> SafeString:
    return drawing.render()


@register.simple_tag
def drawing_of_reading(kind: str) -> SafeString:
    """Draw what a reading of a kind reads, and which way + is."""
    return _rendered(readings.READINGS[kind])


@register.filter
def has_drawing_of_reading(kind: str) -> bool:
    """Say whether a kind of reading has a drawing: those that are typed have."""
    return kind in readings.READINGS


@register.simple_tag
def drawing_of_move(adjuster: str, sign: str | float = "+") -> SafeString:
    """Draw which way an adjuster goes; `sign` is "+", "-" or an amount."""
    return drawing_of_moves({adjuster: moves.way_of(sign)})


@register.simple_tag
def drawing_of_moves(amounts: Mapping[str, float] | Adjustments) -> SafeString:
    """Draw what is moved together, each by the sign of its amount."""
    if isinstance(amounts, Adjustments):
        amounts = asdict(amounts)
    return _rendered(moves.drawing_of_moves(moves.signs_of(amounts)))


@register.simple_tag
def drawing_of_fold(subject: str) -> SafeString:
    """Draw what the numbers of a fold of the take-in mean."""
    return _rendered(folds.FOLDS[subject])


@register.simple_tag
def drawing_of_gauge(key: str) -> SafeString:
    """Draw a ready gauge with its joints numbered."""
    return _rendered(gauges.GAUGES[key])


@register.filter
def has_drawing_of_gauge(key: str) -> bool:
    """Say whether a gauge has a drawing: the ready ones have."""
    return key in gauges.GAUGES


@register.simple_tag
def drawing_of_setting(key: str) -> SafeString:
    """Draw one of the seven settings in three views."""
    return _rendered(settings.SETTINGS_DRAWN[key])
