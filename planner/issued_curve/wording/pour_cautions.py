"""What speaks against reading a pour from its own early breaks, one refusal or caution each, with its figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import EarlyCell, PourRow, Strangeness, Unread
from planner.issued_curve.wording.read_cautions import read_cautions
from planner.maturity.inside_records import LEAST_SLACK
from planner.terms.labels import age_label, percent
from planner.terms.problems import Caution
from planner.terms.results.after_casting.pour_model import PourModel

SHARED_PLACE = (
    "An early break beside the form is no independent check: matched sensors share their place, so it does not see the "
    "coldest corner. Confirm by another in-place test before a critical operation; the responsible engineer decides."
)
STRANGER_ADVICE = (
    "Nothing is read. Check the batch record for water and admixture, the clock of casting and breaking, the sensor "
    "and its place, density and ends of the specimens, and whether it set as usual; ask the concrete supplier and the "
    "responsible engineer before anything rests on this pour."
)
NO_MODEL = (
    "The curve holds nothing to read pours by. Issue it from a plan with [pours], records of one mix with three "
    "batches or more, and an accepted trial batch like the earlier ones; a curve scaled by site checks holds it no "
    "more."
)


def break_faults(early: Sequence[EarlyCell], model: PourModel, target_ages_h: Sequence[float]) -> Iterator[str]:
    """Why early breaks cannot serve, each with its figure."""
    least, most = model.span_h
    for cell in early:
        at = f"The {cell.curing}-cured early break at {age_label(cell.age_h)}"
        if cell.mean_mpa < model.least_strength_mpa:
            yield (
                f"{at} is {cell.mean_mpa:.1f} MPa, below the least strength that can be broken "
                f"({model.least_strength_mpa:g} MPa, [choices] least_strength_mpa). Break later, and void this one."
            )
        if cell.maturity_h < least * (1.0 - LEAST_SLACK):
            yield (
                f"{at} has a maturity of {cell.maturity_h:.1f} h at the reference temperature; the earlier batches "
                f"begin at {least:.1f} h. Break later, or give the temperatures of the specimens where they were "
                "warmer."
            )
        if cell.maturity_h > most:
            yield (
                f"{at} has a maturity of {cell.maturity_h:.1f} h at the reference temperature; the earlier batches end "
                f"at {most:.1f} h. Leave it out."
            )
    first_h = min((cell.age_h for cell in early), default=0.0)
    if early and first_h >= max(target_ages_h):
        yield (
            f"The first early break is at {age_label(first_h)}, not before the last target "
            f"({age_label(max(target_ages_h))}). An early break must be known before the pour is read."
        )


def pour_cautions(
    curve: IssuedCurve,
    strangeness: Strangeness,
    rows: Sequence[PourRow],
    early: Sequence[EarlyCell],
    *,
    has_site_record: bool,
) -> Iterator[Caution]:
    """What has to be known of one reading, the gravest first."""
    yield from read_cautions(curve)
    if strangeness.is_stranger:
        yield Caution(
            "pour-stranger",
            f"The pour is no batch like the earlier ones: its early breaks lie {strangeness.distance:.1f} from what "
            f"they lead one to expect (squared and standardised), and sound pours pass {strangeness.limit:.1f} once in "
            f"a hundred. {STRANGER_ADVICE}",
        )
    if strangeness.is_stranger is None:
        yield Caution(
            "stranger-not-told",
            f"Whether the pour is like the earlier batches cannot be told from {strangeness.n_batches} of them: only a "
            f"deficit of {percent(strangeness.noticed_deficit, digits=0)} would be noticed 9 times in 10.",
        )
    yield from _of_temperatures(curve, rows, has_site_record=has_site_record)
    for row in rows:
        if row.is_target and row.why_not is not None and row.why_not is not Unread.STRANGER:
            yield Caution("target-not-read", _unread_words(curve, row))
    on_site = [cell for cell in early if cell.curing == "site"]
    if on_site:
        yield Caution(
            "early-break-on-site",
            f"{', '.join(age_label(cell.age_h) for cell in on_site)}: cured on site. Each counts at its own maturity, "
            "but the error figures are those of early breaks cured beside the standard specimens.",
        )
    yield Caution("no-independent-check", SHARED_PLACE)


def _of_temperatures(curve: IssuedCurve, rows: Sequence[PourRow], *, has_site_record: bool) -> Iterator[Caution]:
    if curve.maturity.method == "age":
        yield Caution(
            "age-is-the-clock", "Age stands for maturity: a pour colder than the curing room is read too high."
        )
        return
    if not has_site_record:
        at = "its age" if curve.standard_c is None else f"{curve.standard_c:g} C"
        yield Caution(
            "no-temperature-of-pour",
            f"There is no temperature record of the pour (curing site): targets are read as if it were kept at {at}. "
            "On a colder site that reads too much; give --temperatures, or enter the table with the logger's maturity.",
        )
    outside = [row for row in rows if curve.is_outside_temperatures(row.temperature_c)]
    if outside and curve.temperature_c is not None:
        coolest, warmest = curve.temperature_c
        listed = ", ".join(f"{row.temperature_c:.1f} C up to {row.age_h:.4g} h" for row in outside)
        yield Caution(
            "pour-outside-temperatures",
            f"The concrete of the pour averaged {listed}; the calibration holds from {coolest:.0f} to {warmest:.0f} C: "
            "no safe reading there.",
        )


def _unread_words(curve: IssuedCurve, row: PourRow) -> str:
    place = f" ({row.placement})" if row.placement else ""
    at = f"{age_label(row.age_h)}{place} is not read"
    if row.why_not is Unread.NO_BREAK_BEFORE:
        return f"{at}: no early break comes before it."
    if row.why_not is Unread.RECORD_ENDS:
        return f"{at}: the temperature record ends before. Give the longer record when it is there."
    model = curve.pour_model
    assert model is not None  # a pour is read by it
    if row.why_not is Unread.NOT_JUDGED:
        judged = sorted({(item.ages_h, item.target_h) for item in model.remainders})
        listed = "; ".join(f"{', '.join(map(age_label, ages))} for {age_label(at)}" for ages, at in judged)
        return (
            f"{at}: the shifted curve was never judged with early breaks at these ages. It was with: {listed}. Break "
            "the pour there, or use another test."
        )
    if row.why_not is Unread.OUTSIDE_CURVE:
        least, most = curve.span_h
        return (
            f"{at}: it or an early break before it lies outside the breaks of the trial batch ({least:.1f} to "
            f"{most:.1f} h at the reference temperature), and the curve is not carried on. Use another test."
        )
    least, most = model.span_h
    return (
        f"{at}: its maturity of {row.maturity_h:.1f} h lies outside those of the earlier batches ({least:.1f} to "
        f"{most:.1f} h at the reference temperature). Wait, or use another test."
    )


def known_batch_caution(name: str) -> Caution:
    """A pour that the curve has seen."""
    return Caution(
        "pour-among-records",
        f"{name} is an earlier batch or the trial batch of this curve: it has been seen, and its reading proves "
        "nothing. Give a pour that the curve does not know.",
    )
