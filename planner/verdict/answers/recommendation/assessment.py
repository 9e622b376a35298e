"""What holds beyond the choosing: from batches left out, or from fresh drawn ones where batches are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from planner.population import population_of
from planner.resampling.errors.arithmetic import FEWEST_TO_BOOTSTRAP
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.problems import Caution, InputError
from planner.terms.results.drawn_figures import Gain, TemperatureRow
from planner.terms.results.recommended.plotted_points import GrowthPoint, HeldOutPoint
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest
from planner.verdict.answers.maturity_constants.careful_answer import over_reading_of
from planner.verdict.answers.recommendation.next_batch_value import one_more_batch
from planner.verdict.answers.recommendation.plot_points import growth_points, held_out_points, recorded_points
from planner.verdict.compared.age_importance import age_inclusion, inclusion_over_units
from planner.verdict.compared.reference_schedules import Named
from planner.verdict.selection.added_rows import with_row
from planner.verdict.selection.nested import Nested, nested
from planner.verdict.selection.rule import Pick, Rule, Training
from planner.verdict.selection.search import Search
from planner.verdict.selection.tie_rule import BootstrapVerdict
from planner.verdict.statistics.left_out import left_out_in_turn
from planner.verdict.validation.drawn_batches import fresh_look
from planner.verdict.validation.drawn_verdict import drawn_honest, look_and_gains, promises_nothing
from planner.verdict.validation.held_out import Verdict
from planner.verdict.validation.own_batch import upper_bound
from planner.verdict.wording.cautions.temperature_cautions import leaves_site_records
from planner.verdict.wording.evidence_words import SITE_RANGE_DRAWN, site_not_scored_words

FEWEST_TO_PAIR = 4  # units: without two, two others must be left to judge
MOST_TO_PAIR = 12  # of more, no two are left out together, and one of many trial batches gives little away


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Judged:
    """What holds beyond the choosing, from batches left out or from fresh drawn ones."""

    honest: Honest
    more: tuple[Gain, ...]  # what one more batch of breaks would do
    by_temperature: tuple[TemperatureRow, ...]
    inclusion: FloatArray  # how often each age is in the best schedule, (n_ages,)
    growth: tuple[GrowthPoint, ...]
    held_out: tuple[HeldOutPoint, ...]
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Repeated:
    """What the bootstrap repeats the rule over."""

    training: Training
    tied_rows: IntArray
    chosen: int


def judged_on_held_out(search: Search, recommended: RatedChoice, named: Named, repeated: Repeated) -> Judged:
    """Repeat the whole choosing without each batch, and in resampled worlds of batches."""
    settings, cells = search.plan.settings, search.cells
    rule, folds = folds_of(search)
    rule, without_two = without_two_of(search, rule)
    held_out = nested(rule.matrix, cells, search.scoring, search.draws, folds, without_two)
    boot = _bootstrap(search, repeated)
    honest = Verdict(cells, search.scoring, rule, settings.target, settings.prior, over_reading_of(search)).honest(
        recommended, held_out, None if boot is None else boot[0], named.rivals(held_out)
    )
    by_temperature, said = _beyond_site_records(search, recommended)
    return Judged(
        honest=honest,
        more=_one_more(search, honest, held_out),
        by_temperature=by_temperature,
        inclusion=age_inclusion(rule, boot, repeated.chosen),
        growth=growth_points(cells, recommended.maturity),
        held_out=held_out_points(cells, held_out),
        cautions=said,
    )


def _one_more(search: Search, honest: Honest, held_out: Nested | None) -> tuple[Gain, ...]:
    if held_out is None or honest.own_batch is None:
        return ()
    after = upper_bound(search.cells, search.scoring, held_out, n_more=1)
    ages_h = tuple(float(age) for age in search.cells.ages_h)
    return one_more_batch(honest.own_batch.rms_upper_95, after, ages_h=ages_h)


def folds_of(search: Search) -> tuple[Rule, dict[int, Pick]]:
    """What the whole rule takes without each unit in turn: schedule, curve, constant and number of trial batches.

    Of very many units an even choice is left out. With the rule that has a row for each pick: the careful constant of
    a fold may be one that the search let go of.
    """
    in_turn = set(left_out_in_turn(search.cells.n_units).tolist())
    rule, folds = search.rule, {unit: pick for unit, pick in search.rule.folds().items() if unit in in_turn}
    if search.programmes is None:
        return rule, folds
    found = {}
    for unit, pick in folds.items():
        chosen = search.programmes.choose_without(unit)
        if chosen is None:
            found[unit] = pick
            continue
        rule = with_row(rule, search.cells, search.scoring, chosen.taken)
        found[unit] = Pick(pick.best, rule.row_of(chosen.taken.which, chosen.taken.joint), chosen.taken.n_trial_batches)
    return rule, found


def without_two_of(search: Search, rule: Rule) -> tuple[Rule, dict[tuple[int, int], int]]:
    """What the whole rule takes without each two units, with the rule that has a row for each; {} where not asked.

    Two batches of a mix are one unit where mixes are left out.
    """
    n_units = search.cells.n_units
    found: dict[tuple[int, int], int] = {}
    if search.programmes is None or search.cells.is_by_mix or not FEWEST_TO_PAIR <= n_units <= MOST_TO_PAIR:
        return rule, found
    for one, other in combinations(range(n_units), 2):
        chosen = search.programmes.choose_without(one, other)
        if chosen is not None:
            rule = with_row(rule, search.cells, search.scoring, chosen.taken)
            found[one, other] = rule.row_of(chosen.taken.which, chosen.taken.joint)
    return rule, found


def judged_on_fresh(search: Search, recommended: RatedChoice) -> Judged:
    """Judge the recommended choice on drawn batches that had no part in choosing it."""
    settings, population = search.plan.settings, search.basis.population
    assert population is not None
    look, more = look_and_gains(population, settings, recommended)
    is_silent = promises_nothing(population, settings)
    return Judged(
        honest=drawn_honest(population, look, recommended.error.rms),
        more=more,
        by_temperature=() if is_silent else look.over_temperature(),
        inclusion=inclusion_over_units(search.rule),
        growth=recorded_points(search.plan.records, settings, recommended.maturity),
        held_out=(),
    )


def _beyond_site_records(
    search: Search, recommended: RatedChoice
) -> tuple[tuple[TemperatureRow, ...], tuple[Caution, ...]]:
    """Errors of the recommended over a stated site range that the site records do not cover, on drawn batches.

    What the drawing warns of comes with them, but for ages that it would not offer: breaks have shown those.
    """
    plan = search.plan
    if not leaves_site_records(plan.records, plan.settings) or search.cells.settings[0].method == "age":
        return (), ()
    try:
        look = fresh_look(population_of(plan.records, plan.settings), plan.settings, recommended)
    except InputError as error:
        return (), (Caution("site-not-scored", site_not_scored_words(str(error))),)
    said = Caution("site-range-drawn", SITE_RANGE_DRAWN)
    known = {*search.basis.cautions, *search.cells.cautions, *plan.records.cautions}
    of_drawing = (item for item in look.drawn.cautions if item.code != "drawn-too-weak" and item not in known)
    return look.over_temperature(), (said, *of_drawing)


def _bootstrap(search: Search, repeated: Repeated) -> tuple[BootstrapVerdict, IntArray] | None:
    if len(repeated.training.units) < FEWEST_TO_BOOTSTRAP:
        return None
    return search.rule.bootstrap(repeated.training, repeated.tied_rows, seed=search.seed)
