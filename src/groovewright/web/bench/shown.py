"""What the bench page shows of the seven settings: words, marks and shares, ready to be printed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.bench.estimate.setting_state import DeckState, SettingState
from groovewright.bench.estimate.settings import SETTINGS, Setting
from groovewright.measurement.formatting import format_chosen, format_interval, format_quantity, split_quantity
from groovewright.measurement.units import printed_unit
from groovewright.report.layout import minus
from groovewright.web.bench.picture import Track, track

MIN_SHARE = 0.02
MAX_SHARES = 4
"""Readings that a setting is based on, named beside it: more would not fit, and smaller ones say nothing."""

MIN_ODDS = 1e-9
"""No state is known so well that a smaller chance means anything."""


@dataclass(frozen=True)
class ShownShare:
    """A reading and what a setting owes to it, for a bar."""

    label: str
    percent: int


@dataclass(frozen=True)
class ShownSetting:
    """One row of the picture.

    Attributes
    ----------
    state : SettingState
        As the deck is now.
    found : SettingState or None
        As it was found; None where nothing was moved or read since, so that it is the same.
    track : Track or None
        None where no limits are known.
    value, uncertainty, unit, found_text, beside, lower_text, upper_text, aim_text, interval_text : str
        As printed.
    shares : tuple of ShownShare
    dominating_percent : int
    """

    setting: Setting
    state: SettingState
    found: SettingState | None
    track: Track | None
    value: str
    uncertainty: str | None
    unit: str
    found_text: str
    beside: str
    lower_text: str
    upper_text: str
    aim_text: str
    interval_text: str
    shares: tuple[ShownShare, ...]
    dominating_percent: int

    @property
    def is_calculated(self) -> bool:
        """Whether the value was carried over a move and not read since."""
        return self.state.basis == "calculated"

    @property
    def does_not_apply(self) -> bool:
        """Whether the arm has no such setting."""
        return self.state.basis == "does not apply"

    @property
    def band_width(self) -> float:
        """Of the tolerance, in drawing units."""
        return 0.0 if self.track is None else round(self.track.band_right - self.track.band_left, 2)

    @property
    def interval_width(self) -> float:
        """Of the interval, in drawing units."""
        ends = None if self.track is None else self.track.interval
        return 0.0 if ends is None else round(ends[1] - ends[0], 2)

    @property
    def spoken(self) -> str:
        """The row in one sentence, for those who hear it."""
        if self.state.quantity is None:
            return f"{self.setting.title}: {self.state.outcome}"
        limits = " and ".join(
            words
            for words in (
                f"a lower limit of {self.lower_text}" if self.lower_text else "",
                f"an upper limit of {self.upper_text}" if self.upper_text else "",
            )
            if words
        )
        spread = f" ± {self.uncertainty}" if self.uncertainty else ""
        value = f"{self.setting.title} {self.value}{spread} {self.unit}"
        if self.state.tolerance is None:
            return f"{value}, with no limits to judge it by"
        calculated = ", calculated" if self.is_calculated else ""
        found = f"; as found {self.found_text}" if self.found_text else ""
        return f"{value} against {limits}: {self.state.outcome}{calculated}{found}"


def shown_settings(now: DeckState, found: DeckState | None = None) -> tuple[ShownSetting, ...]:
    """Return the rows of all seven, in their order; `found` is the deck as found, where it was changed since."""
    before = {} if found is None else {one.key: one for one in found.settings}
    return tuple(_shown(one, before.get(one.key)) for one in now.settings)


def _shown(one: SettingState, found: SettingState | None) -> ShownSetting:
    setting, quantity, tolerance = SETTINGS[one.key], one.quantity, one.tolerance
    unit = "g" if one.key == "tracking_force" else setting.unit
    value, uncertainty, shown_unit = ("", None, printed_unit(unit))
    beside = interval = ""
    if quantity is not None:
        value, uncertainty, shown_unit = split_quantity(quantity, unit)
        uncertainty = None if quantity.standard_uncertainty == 0 else uncertainty
        beside = minus(format_quantity(quantity)) if unit != setting.unit else ""
        interval = minus(format_interval(quantity, unit=unit))
    was = None if found is None else found.quantity
    lower, upper = (None, None) if tolerance is None else (tolerance.lower, tolerance.upper)
    return ShownSetting(
        setting=setting,
        state=one,
        found=found,
        track=None if tolerance is None else track(quantity, tolerance, one.aim, found=was),
        value=minus(value),
        uncertainty=uncertainty,
        unit=shown_unit,
        found_text="" if was is None else minus(format_quantity(was, unit=unit)),
        beside=beside,
        lower_text=_limit(lower, setting.unit, unit),
        upper_text=_limit(upper, setting.unit, unit),
        aim_text=_limit(one.aim, setting.unit, unit),
        interval_text=interval,
        shares=tuple(
            ShownShare(share.label, round(100 * share.share))
            for share in one.based_on[:MAX_SHARES]
            if share.share >= MIN_SHARE
        ),
        dominating_percent=round(100 * one.dominating_share),
    )


def _limit(value: float | None, unit: str, shown_unit: str) -> str:
    if value is None:
        return ""
    gap = "" if shown_unit == "deg" else " "
    return minus(f"{format_chosen(value, unit, shown_unit=shown_unit)}{gap}{printed_unit(shown_unit)}")


def odds(log_probability: float) -> str:
    """Return a probability that is kept as a logarithm, in words that stay true far down.

    >>> odds(math.log(0.0003))
    '1 in 3,000'
    """
    if log_probability < math.log(MIN_ODDS):
        return f"less than 1 in {1 / MIN_ODDS:,.0f}"
    if log_probability < math.log(0.01):
        # To one digit: more would be made up.
        fraction = math.exp(-log_probability)
        size = 10 ** math.floor(math.log10(fraction))
        return f"1 in {round(fraction / size) * size:,.0f}"
    percent = 100 * math.exp(log_probability)
    if percent > 99.9:
        return "above 99.9 %"
    return f"{percent:.1f} %" if percent < 10 else f"{percent:.0f} %"
