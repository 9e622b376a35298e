"""The story of a set of records in sections: what it holds, where it has holes, what it can answer."""

from __future__ import annotations

import math

from planner.evidence.record_summary import BatchStory, Story, TargetStory
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.terms.labels import age_label, target_label

SHOWN = 30
BARS = "▁▂▃▄▅▆▇█"
NO_BREAKS = "none: the plan rests on published growth, which puts schedules in order and shows nothing of this mix"
NOT_FITTED = "These are counts, means and scatter; no strength-maturity curve was fitted."
FEW_BATCHES = 4  # fewer leave the bounds of any error very wide; common practice, no source


def story_account(story: Story, *, title: str = "") -> tuple[Section, ...]:
    """Everything worth knowing about the records before planning from them."""
    heading = words.clean(title, limit=120) or "The records"
    if not story.batches:
        odd = _odd(story)
        flagged = (Section("Flagged", (Bullets(odd),)),) if odd else ()
        return (Section(heading, (Facts((("Breaks", NO_BREAKS),)), Bullets(_unbroken(story)))), *flagged)
    sections = [
        Section(heading, (_totals(story),)),
        Section("Batches", (_batch_table(story),)),
        Section("Strength growth (a bar for each age, by share of the strongest)", (_growth(story),)),
        Section("Within-test scatter", (_scatter_table(story),)),
    ]
    temperatures = _temperature_table(story)
    if temperatures.rows:
        sections.append(Section("Temperatures", (temperatures,)))
    odd = _odd(story)
    if odd:
        sections.append(Section("Holes, voided and flagged", (Bullets(odd),)))
    sections.append(Section("What these records can and cannot answer", _answers(story)))
    return tuple(sections)


def _unbroken(story: Story) -> tuple[str, ...]:
    names = [target_label(target.age_h, target.strength_mpa) for target in story.targets]
    return (f"Break a first batch at the targets ({', '.join(names)}): until then no error is measured.",)


def _totals(story: Story) -> Facts:
    named = ", ".join(words.clean(mix, limit=40) for mix in story.mixes[:SHOWN])
    mixes = named or "not told; all batches count as one"
    return Facts(
        (
            ("Breaks", f"{story.n_breaks} usable, {story.n_voided} voided"),
            ("Batches", str(len(story.batches))),
            ("Mixes", mixes),
            ("Ages", words.ages_words(story.ages_h)),
        )
    )


def _batch_table(story: Story) -> Table:
    """Batches that were broken alike share a row."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for batch in story.batches:
        description = (
            words.clean(batch.mix, limit=24) or words.NONE,
            ", ".join(words.clean(geometry, limit=30) for geometry in batch.geometries) or words.NONE,
            _ages_by_curing(batch),
            str(batch.n_breaks),
        )
        alike.setdefault(description, []).append(words.clean(batch.batch, limit=24))
    rows = tuple((", ".join(names), *description) for description, names in alike.items())
    columns = (
        Column(heading="batch"),
        Column(heading="mix", is_wide_only=True),
        Column(heading="geometry", is_wide_only=True),
        Column(heading="ages (specimens)"),
        Column(heading="breaks each", is_number=True),
    )
    return Table(columns=columns, rows=rows)


def _ages_by_curing(batch: BatchStory) -> str:
    curings = dict.fromkeys(cell.curing for cell in batch.cells)
    parts = []
    for curing in curings:
        ages = ", ".join(
            f"{age_label(cell.age_h)} ({cell.n_specimens})" for cell in batch.cells if cell.curing == curing
        )
        parts.append(f"{curing}: {ages}")
    return "; ".join(parts)


def _growth(story: Story) -> Table:
    rows = []
    for batch in story.batches:
        grown = [cell for cell in batch.cells if cell.curing == "standard"] or list(batch.cells)
        strongest = max(cell.mean_mpa for cell in grown)
        bars = "".join(_bar(cell.mean_mpa / strongest) for cell in grown)
        first, last = grown[0], grown[-1]
        rows.append(
            (
                words.clean(batch.batch, limit=24),
                bars,
                f"{first.mean_mpa:.1f} MPa at {age_label(first.age_h)}",
                f"{last.mean_mpa:.1f} MPa at {age_label(last.age_h)}",
            )
        )
    headings = ("batch", "growth", "youngest", "oldest")
    return Table(columns=tuple(Column(heading=heading) for heading in headings), rows=tuple(rows))


def _scatter_table(story: Story) -> Table:
    rows = tuple(
        (age_label(item.age_h), str(item.n_cells), str(item.n_specimens), words.share(item.cv))
        for item in story.scatter
    )
    columns = (
        Column(heading="age"),
        Column(heading="sets", is_number=True),
        Column(heading="specimens", is_number=True),
        Column(heading="within-test CV", is_number=True),
    )
    if story.precision_cv is None:
        note = _no_precision_words(story)
    else:
        stated = words.share(story.precision_cv)
        note = f"{story.precision_source} for this geometry: {stated} (from memory)."
    if not rows:
        note = "No replicates: the scatter must be stated in the plan ([prior] within_test_cv). " + note
    return Table(columns=columns, rows=rows, note=note)


def _no_precision_words(story: Story) -> str:
    geometries = {geometry for batch in story.batches for geometry in batch.geometries}
    if len(geometries) > 1:
        return f"Pooled over {len(geometries)} geometries, each set of one alone; standards state scatter by geometry."
    return "No standard is known here that states a within-test CV for this geometry."


def _temperature_table(story: Story) -> Table:
    rows = tuple(
        (
            words.clean(batch.batch, limit=24),
            span.curing + (f", {words.clean(span.placement, limit=16)}" if span.placement else ""),
            str(span.n_readings),
            f"{span.first_h:g} to {span.last_h:g} h",
            f"{span.coolest_c:.1f} to {span.warmest_c:.1f}",
            f"{span.mean_c:.1f}",
        )
        for batch in story.batches
        for span in batch.temperatures
    )
    columns = (
        Column(heading="batch"),
        Column(heading="curing"),
        Column(heading="readings", is_number=True),
        Column(heading="span"),
        Column(heading="C", is_number=True),
        Column(heading="mean, C", is_number=True),
    )
    return Table(columns=columns, rows=rows)


def _odd(story: Story) -> tuple[str, ...]:
    holes = [
        f"Batch {words.clean(batch.batch, limit=40)} was not broken at "
        f"{words.ages_words(batch.missing_ages_h)}, most others were."
        for batch in story.batches
        if batch.missing_ages_h
    ]
    voided = [f"Voided: {words.clean(which, limit=120)}: {words.clean(why, limit=120)}." for which, why in story.voided]
    flagged = [words.clean(text, limit=1000) for text in story.flagged]
    return (*_capped(holes), *_capped(voided), *_capped(flagged))


def _capped(items: list[str]) -> list[str]:
    return items if len(items) <= SHOWN else [*items[:SHOWN], f"and {len(items) - SHOWN} more of this kind."]


def _answers(story: Story) -> tuple[Block, ...]:
    n_batches = len(story.batches)
    lines = [_target_answer(target, n_batches=n_batches) for target in story.targets]
    constants = story.constants
    if constants.n_batches == 0:
        lines.append(
            "Maturity constants: they cannot be told apart, no batch has records at two temperatures. "
            "Choose them from outside, or cure companions of one batch warmer or colder."
        )
    else:
        verb = "can be told apart" if constants.is_telling else "can hardly be told apart"
        lines.append(
            f"Maturity constants: they {verb}. At most {constants.widest_c:.1f} K lie between the mean "
            f"temperatures of one batch; equivalent ages with Q of 4000 and of 6000 K then differ by "
            f"{words.share(constants.age_difference)}."
        )
    if n_batches < 2:
        lines.append("Own-batch error: unknown, one batch cannot be held out. Break a second one.")
    elif n_batches < FEW_BATCHES:
        lines.append(f"Own-batch error: only {n_batches} batches, every bound will be very wide.")
    return Paragraph("These are counts, means and scatter; no strength-maturity curve was fitted."), Bullets(
        tuple(lines)
    )


def _target_answer(target: TargetStory, *, n_batches: int) -> str:
    n_site, n_standard = len(target.with_site), len(target.with_standard)
    name = target_label(target.age_h, target.strength_mpa)
    if target.strength_mpa is not None:
        text = (
            f"{name}: can be checked in {n_site + n_standard} of {n_batches} batches, broken on both sides of it"
            f" ({n_site} of them with companions cured beside the work)."
        )
        if target.without:
            text += f" Not in: {', '.join(words.clean(batch, limit=24) for batch in target.without[:SHOWN])}."
        return text
    if n_site + n_standard == 0:
        return f"{name}: nothing was broken at this age; its error cannot be measured."
    parts = []
    if n_site:
        parts.append(f"{n_site} of {n_batches} batches against companions cured beside the work")
    if n_standard:
        of_all = f"{n_standard} more" if n_site else f"{n_standard} of {n_batches} batches"
        parts.append(f"{of_all} against standard-cured specimens only, which says nothing of the site")
    text = f"{name}: can be checked, " + ", ".join(parts) + "."
    if target.without:
        named = ", ".join(words.clean(batch, limit=24) for batch in target.without[:SHOWN])
        text += f" Not in: {named}."
    return text


def _bar(share: float) -> str:
    """One bar for a share between 0 and 1."""
    return BARS[min(len(BARS) - 1, max(0, math.floor(len(BARS) * share)))]
