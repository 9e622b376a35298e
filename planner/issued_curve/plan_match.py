"""Whether an issued curve belongs to a plan."""

from __future__ import annotations

from collections.abc import Iterator

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings


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


def changed_inputs(inputs: tuple[tuple[str, str], ...], curve: IssuedCurve) -> list[str]:
    """Files of a plan, (name, digest) each, whose content is not the one that the curve was issued from."""
    return [name for name, digest in inputs if dict(curve.inputs).get(name, digest) != digest]
