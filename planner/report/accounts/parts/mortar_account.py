"""What cubes of mortar say of the maturity constants, beside what the concrete says, in a section."""

from __future__ import annotations

from planner.report.text.blocks import Bullets, Column, Section, Table
from planner.terms.plan.mortar import MortarConstant, MortarConstants
from planner.terms.results.constants import Constants

HEADING = "Maturity constants from mortar"
NOTE = (
    "Rate k of Su k (t - t0) / (1 + k (t - t0)) through the cubes at each temperature; ln k against 1 / T gives Q, k "
    "against T the datum (annex of ASTM C1074, from memory)."
)


def mortar_section(mortar: MortarConstants | None, study: Constants | None = None) -> Section:
    """Rates and both constants; nothing below the heading where there are no cubes.

    Parameters
    ----------
    study
        What the companions and breaks of the concrete say; None where nothing was searched, or they cannot tell.
    """
    if mortar is None:
        return Section(HEADING, ())
    bullets = [
        *_constant_words("Q", "K", mortar.q_k, digits=0),
        *_constant_words("Datum", "C", mortar.datum_c, digits=1),
    ]
    if study is not None:
        for method in study.methods:
            low, high = method.about_as_good
            name, unit = ("Q", "K") if method.method == "equivalent age" else ("a datum", "C")
            reach = f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit}"
            bullets.append(
                f"The concrete itself is read about equally well on a {study.judged_on} with {name} of {reach}."
            )
    return Section(HEADING, (_rates(mortar), Bullets(tuple(bullets))))


def _rates(mortar: MortarConstants) -> Table:
    columns = (
        Column(heading="cured at, C", is_number=True),
        Column(heading="cubes", is_number=True),
        Column(heading="ages", is_number=True),
        Column(heading="k, per day", is_number=True),
        Column(heading="standard error, %", is_number=True),
        Column(heading="t0, h", is_number=True),
        Column(heading="Su, MPa", is_number=True),
    )
    rows = tuple(
        (
            f"{rate.temperature_c:g}",
            str(rate.n_cubes),
            str(rate.n_ages),
            f"{rate.rate_per_d:.4g}",
            f"{100 * rate.rate_se:.1f}",
            f"{rate.offset_h:.1f}",
            f"{rate.ultimate_mpa:.1f}",
        )
        for rate in mortar.rates
    )
    return Table(columns=columns, rows=rows, note=NOTE)


def _constant_words(name: str, unit: str, constant: MortarConstant, *, digits: int) -> list[str]:
    step = " K" if unit == "C" else ""  # a difference of temperatures; that of Q is none
    text = (
        f"{name} {constant.value:.{digits}f} {unit}, standard error {constant.standard_error:.{digits}f}{step}, 95 % "
        f"from {constant.least:.{digits}f} to {constant.most:.{digits}f} {unit}."
    )
    if not constant.is_on_a_line:
        text += " The rates leave a straight line by more than their scatter; the interval counts that."
    if constant.taken is None:
        return [f"{text} It takes no part: the plan asks for no such constants, or it lies outside what can be used."]
    text += f" {constant.taken:g} {unit} joins the candidates."
    if constant.dropped:
        text += f" Left out, outside the interval: {', '.join(f'{value:g}' for value in constant.dropped)} {unit}."
    return [text]
