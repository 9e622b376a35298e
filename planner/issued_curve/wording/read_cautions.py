"""What has to be known of an issued curve before anything is read with it."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import metadata

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.terms.problems import Caution

DISTRIBUTION = "test-age-planner"


def read_cautions(curve: IssuedCurve) -> Iterator[Caution]:
    """What has to be known of a curve before anything is read with it."""
    if not curve.is_calibrated:
        because = "The calibration of the curve was NOT ACCEPTED"
        if curve.basis == "records":
            because = "The curve is NOT CALIBRATED"
        yield Caution("not-calibrated", f"{because}: no pour may be released by it.")
    version = metadata.version(DISTRIBUTION)
    if curve.version != version:
        yield Caution(
            "other-version",
            f"Version {curve.version} of the program issued the curve, this is version {version}. It is read as it was "
            "issued; issue it anew where the versions differ in what matters to you.",
        )
