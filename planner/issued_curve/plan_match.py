"""Whether an issued curve belongs to a plan."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import metadata

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution

DISTRIBUTION = "test-age-planner"


def faults_beside(settings: Settings, curve: IssuedCurve) -> Iterator[str]:
    """Say in what a curve was issued for another plan."""
    target = settings.target
    if settings.mix_name and curve.mix and settings.mix_name != curve.mix:
        yield (
            f'The curve is for the mix "{curve.mix}", the plan for "{settings.mix_name}". Give the curve that was '
            "issued for this plan."
        )
    if target.ages_h != curve.target_ages_h:
        given, asked = (", ".join(map(age_label, ages)) for ages in (curve.target_ages_h, target.ages_h))
        yield f"The curve was issued for targets at {given}, the plan asks for {asked}. Give the curve of this plan."


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


def changed_inputs(inputs: tuple[tuple[str, str], ...], curve: IssuedCurve) -> list[str]:
    """Files of a plan, (name, digest) each, whose content is not the one that the curve was issued from."""
    return [name for name, digest in inputs if dict(curve.inputs).get(name, digest) != digest]
