"""What is said of breaks after the plan that are not used, or whose temperature is assumed."""

from __future__ import annotations

from collections.abc import Iterator

from planner.issued_curve.calibration.usable_breaks import AGREES_WITHIN, UsableBreaks
from planner.terms.labels import age_label, listed, percent
from planner.terms.problems import Caution

MOST_LISTED = 4


def usable_cautions(usable: UsableBreaks) -> Iterator[Caution]:
    """One caution each."""
    if usable.unused_curings:
        yield Caution(
            "curing-not-used",
            f"Breaks of {usable.file} cured otherwise than standard or on site are not used "
            f"({', '.join(usable.unused_curings)}).",
        )
    if usable.differing:
        differing = (
            f"{item.batch} {item.curing} at {age_label(item.age_h)} {item.given:.4g} (record {item.recorded:.4g})"
            for item in usable.differing
        )
        yield Caution(
            "maturity-differs",
            f"Maturities given differ by more than {percent(AGREES_WITHIN, digits=0)} from those of the temperature "
            f"records; the given ones count: {listed(differing, most=MOST_LISTED)}. See whether the logger was set "
            "to the curve's maturity function, or leave the maturity empty.",
        )
    if usable.assumed and usable.assumed_c is not None:
        yield Caution(
            "no-temperature-on-site",
            f"The site-cured breaks of {', '.join(usable.assumed)} have no temperature record and no maturity: they "
            f"are read as if kept at {usable.assumed_c:g} C. On a colder site the curve then reads too much for them; "
            "give --temperatures or a maturity column.",
        )
