"""The numbers identification works with: what they are, where they come from, how to change them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stash.errors import InvalidInput

NONE_PRIOR = 0.05
"""Belief, before looking, that the part is none of the known designs. Source: project decision."""
SLIP = 0.01
"""Share of readings that are slips (misread, wrong place) and could be anything in range. Source: project decision."""
TELL_ERROR = 0.03
"""Share of tells seen wrongly. Source: from memory."""
WEAR_MM = {"smaller": 0.05, "larger": 0.02, "either": 0.10}
"""Mean wear in mm by direction: outside, inside, soft parts that shrink or swell. Source: from memory."""
WEAR_PER_UNCERTAINTY = 1.0
"""Mean wear of a measure not in mm, in its standard uncertainties. Source: project decision."""
UNCERTAINTY_MM = 0.05
"""Standard uncertainty (k = 1) of a measure in mm that states none: caliper jaws. Source: from memory."""
UNCERTAINTY_SHARE = 0.01
"""Standard uncertainty of any other measure that states none, as a share of the size. Source: from memory."""
LEAST_SIGMA = 1e-6
"""Smallest standard deviation: sizes are kept to a millionth of their unit. Source: project decision."""
RANGE_MARGIN = 0.2
"""How far beyond the sizes on record a kind's range reaches, as a share of the largest. Source: project decision."""
NUMBER_EFFORT_S = 20.0
"""Seconds to measure, where a measure states none. Source: from memory."""
TELL_EFFORT_S = 5.0
"""Seconds to look, where a tell states none. Source: from memory."""
CLEAR_AT = 0.95
"""Probability at which a design is clear. Source: project decision."""
CLEAR_AT_CRITICAL = 0.99
"""The same for a safety-critical kind, which also needs an instrument reading. Source: project decision."""
NONE_AT_MOST = 0.02
"""How likely "none of these" may still be when a design is clear. Source: project decision."""
NONE_LEADS_AT = 0.5
"""Probability above which "none of these" ends the questions. Source: project decision."""
LEAST_BITS = 0.05
"""A question expected to tell less than this would not help. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Options:
    """What a caller may know better than the defaults.

    Args:
        none_prior: Belief before looking in "none of these", 0 to below 1.
        slip: Share of number readings that are slips, 0 to below 1.
        tell_error: Share of tells seen wrongly, above 0 and below 1.
        tell_errors: ``{measure: share}`` where a tell is harder or easier to see.
        wear_scales: ``{measure: mean wear in its unit}``; 0 for no wear.
        uncertainties: ``{measure: standard uncertainty (k = 1) in its unit}`` of the instrument really used.
        ranges: ``{measure: (lowest, highest)}`` in its unit that any part of the kind could show.
        weights: ``{design: relative frequency}``; a design left out weighs 1.

    Raises:
        InvalidInput: A share or a size that makes no sense.
    """

    none_prior: float = NONE_PRIOR
    slip: float = SLIP
    tell_error: float = TELL_ERROR
    tell_errors: Mapping[str, float] = field(default_factory=dict)
    wear_scales: Mapping[str, float] = field(default_factory=dict)
    uncertainties: Mapping[str, float] = field(default_factory=dict)
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    weights: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _share("none_prior", self.none_prior, zero=True)
        _share("slip", self.slip, zero=True)
        for name, value in {"tell_error": self.tell_error, **self.tell_errors}.items():
            _share(name, value, zero=False)
        for name, value in {**self.wear_scales, **self.uncertainties, **self.weights}.items():
            if not 0 <= value < float("inf"):
                raise InvalidInput(f"{name}: {value} is not a size", "Give 0 or a number above it.")
        for name, (low, high) in self.ranges.items():
            if not low < high:
                raise InvalidInput(f"{name}: the range {low} to {high} is empty", "Give the lower end first.")


def _share(name: str, value: float, *, zero: bool) -> None:
    if not (0 <= value < 1) or (value == 0 and not zero):
        raise InvalidInput(f"{name}: {value} is not a share", "Give a number between 0 and 1, such as 0.03.")
