"""What will be done after the first break, by its mean: laid down before casting, and replayed on the earlier batches.

First means are tried over the whole range that a batch could have; means with the same answer make a band. A batch
like the earlier ones has its log mean about the mean curve with the spread of batches, departures and the scatter of
its specimens, Student's t with B - 1 degrees of freedom: so many sound batches fall in each band.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from planner.mixed_model import CellMeans, centre, judge_early_plans
from planner.mixed_model.stranger import FEWEST_BATCHES as FEWEST_TO_TELL
from planner.terms.arrays import FloatArray
from planner.terms.results.after_casting.continuing import Action, IfThen, IfThenBand, IfThenTable
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.answers.continuing.beginnings import earlier_batches, rescored
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.rescored import Decision, Rescored
from planner.verdict.selection.search import Search
from planner.verdict.statistics.left_out import left_out_in_turn
from planner.verdict.validation.one_mix import why_not_one_mix
from planner.verdict.validation.pours_of_cells import Pours, pours_of_cells
from planner.verdict.wording.continuing_words import band_words

FEWEST_BATCHES = 4  # of which one is held out in the replay
N_TRIED = 401  # first means
REACH = 6.0  # standard deviations of a batch, up and down
LEAST_SHARE = 0.01  # of sound batches: what fewer first means say between two like answers is left out
ODD = 0.05  # share of sound pours that are asked for one specimen more


@dataclass(frozen=True, slots=True)
class _Tried:
    """The answer to one first mean."""

    action: Action
    schedule: Schedule | None = None


def if_then(search: Search, recommended: RatedChoice, early: EarlyBreaks | None) -> IfThen | None:
    """Both tables; None where the records do not tell how batches of one mix differ."""
    if why_not_one_mix(search, fewest=FEWEST_BATCHES) is not None:
        return None
    earlier = earlier_batches(search, recommended)
    return IfThen(
        trial=_trial_table(search, recommended, earlier), pour=_pour_table(search, recommended, earlier, early)
    )


def _trial_table(search: Search, recommended: RatedChoice, earlier: EarlierBatches) -> IfThenTable | None:
    age_h, n = recommended.schedule.ages_h[0], recommended.schedule.specimens[0]
    found = rescored(search, recommended, {age_h: n})
    column = earlier.column_of(age_h)
    if found is None or column is None or recommended.schedule.n_ages < 2:
        return None
    table, units = found
    places = [earlier.names.index(search.cells.unit_names[unit]) for unit in units]

    def answer(mean_mpa: float) -> _Tried:
        broken = CellMeans(
            maturity_h=_first(earlier, column), mean_mpa=np.array([mean_mpa]), n_specimens=np.array([float(n)])
        )
        decision = _decided(earlier, table, broken, age_h, places)
        return _Tried(decision.action, table.schedule(decision.row) if decision.row != table.planned else None)

    bands, expected = _bands(earlier, column, n, answer, is_pour=False)
    replayed = _replay(earlier, table, places, age_h, n)
    if not replayed:
        return None
    rows = np.array([decision.row for decision in replayed.values()])
    at = np.array(list(replayed))
    return IfThenTable(
        age_h=age_h,
        n_specimens=n,
        expected_mpa=expected,
        bands=bands,
        error_planned=_root(table.level[table.planned, at], table.variance[table.planned, at]),
        error_followed=_root(table.level[rows, at], table.variance[rows, at]),
        specimens_planned=float(table.n_specimens[table.planned]),
        specimens_followed=float(np.mean(table.n_specimens[rows])),
        n_batches=len(replayed),
        n_changed=sum(decision.action != "go on" for decision in replayed.values()),
        can_tell_strangers=earlier.cells.n_batches >= FEWEST_TO_TELL,
        noticed_deficit=_noticed(earlier, column, n),
    )


def _decided(
    earlier: EarlierBatches, table: Rescored, broken: CellMeans, age_h: float, places: Sequence[int]
) -> Decision:
    if earlier.stranger(broken).is_stranger:
        return Decision("stop", table.planned)
    weights = earlier.weights(broken, [age_h])[list(places)]
    return table.decide(weights / weights.sum())


def _replay(
    earlier: EarlierBatches, table: Rescored, places: Sequence[int], age_h: float, n: int
) -> dict[int, Decision]:
    """What the table does with every batch when the others alone decide, by its place among the judged.

    Of very many batches an even choice is tried.
    """
    taken = {}
    for at in left_out_in_turn(len(places)).tolist():
        batch = places[at]
        broken = earlier.means_of(batch, age_h, n)
        if broken is None or len(places) < FEWEST_BATCHES:
            continue
        others = earlier.without(batch)
        kept = np.array([k for k in range(len(places)) if k != at])
        theirs = [places[k] - (places[k] > batch) for k in kept]
        taken[at] = _decided(others, table.only(kept), broken, age_h, theirs)
    return taken


def _root(level: FloatArray, variance: FloatArray) -> float:
    """RMS of levels, never below what the specimens alone give."""
    return float(np.sqrt(max(level.mean(), variance.mean())))


def _first(earlier: EarlierBatches, column: int) -> FloatArray:
    """Typical maturity at an age, ``(1,)``."""
    held = earlier.cells.is_held[:, column]
    return np.asarray(np.exp([earlier.cells.log_maturity[held, column].mean()]))


def _bands(
    earlier: EarlierBatches, column: int, n: int, answer: Callable[[float], _Tried], *, is_pour: bool
) -> tuple[tuple[IfThenBand, ...], float]:
    """Bands of first means with one answer, weakest first, and the mean that is expected."""
    from scipy.special import stdtr

    middle, sd = _law(earlier, column, n)
    logs = middle + sd * np.linspace(-REACH, REACH, N_TRIED)
    tried = [answer(float(np.exp(log))) for log in logs]
    shares = np.diff(stdtr(earlier.cells.n_batches - 1, np.linspace(-REACH, REACH, N_TRIED)), append=1.0)
    tried = without_slivers(tried, shares)
    edges = 0.5 * (logs[:-1] + logs[1:])
    carried = _carried_means(earlier, column)
    bands: list[IfThenBand] = []
    start = 0
    for action, group in groupby(tried, key=lambda one: one.action):
        members = list(group)
        stop = start + len(members)
        low = None if start == 0 else edges[start - 1]
        high = None if stop == len(tried) else edges[stop - 1]
        upper = 1.0 if high is None else float(stdtr(earlier.cells.n_batches - 1, (high - middle) / sd))
        lower = 0.0 if low is None else float(stdtr(earlier.cells.n_batches - 1, (low - middle) / sd))
        low_mpa, high_mpa = (None if edge is None else float(np.exp(edge)) for edge in (low, high))
        bands.append(
            IfThenBand(
                low_mpa=low_mpa,
                high_mpa=high_mpa,
                action=action,
                what=band_words(action, remaining=members[len(members) // 2].schedule, is_pour=is_pour),
                sound_share=upper - lower,
                batches=tuple(
                    name
                    for name, mean_mpa in carried
                    if (low_mpa is None or mean_mpa >= low_mpa) and (high_mpa is None or mean_mpa < high_mpa)
                ),
            )
        )
        start = stop
    return tuple(bands), float(np.exp(middle))


def without_slivers(tried: list[_Tried], shares: FloatArray) -> list[_Tried]:
    """Give means that hold next to no sound batches the answer on both sides of them, where that is one.

    Parameters
    ----------
    shares
        Of sound batches at each of the means, ``(n_tried,)``.
    """
    groups = [list(group) for _, group in groupby(range(len(tried)), key=lambda place: tried[place].action)]
    smoothed = list(tried)
    for before, group, after in zip(groups, groups[1:], groups[2:], strict=False):
        is_between_alike = tried[before[-1]].action == tried[after[0]].action
        if is_between_alike and float(shares[group].sum()) < LEAST_SHARE:
            for place in group:
                smoothed[place] = tried[before[-1]]
    return smoothed


def _law(earlier: EarlierBatches, column: int, n: int) -> tuple[float, float]:
    """Mean and standard deviation of the log mean of a new batch at an age."""
    prior, maturity = earlier.prior, _first(earlier, column)
    expected, rows = prior.at(maturity)
    about = centre(prior)
    spread = float((rows @ (about.covariance + prior.spread) @ rows.T)[0, 0])
    noise = float((prior.cv_at(maturity) ** 2 / n + prior.departure_variance(maturity))[0])
    return float(expected[0] + (rows @ about.mean)[0]), float(np.sqrt(spread + noise))


def _noticed(earlier: EarlierBatches, column: int, n: int) -> float:
    middle, _ = _law(earlier, column, n)
    return earlier.stranger(
        CellMeans(
            maturity_h=_first(earlier, column),
            mean_mpa=np.exp(np.array([middle])),
            n_specimens=np.array([float(n)]),
        )
    ).noticed_deficit


def _carried_means(earlier: EarlierBatches, column: int) -> list[tuple[str, float]]:
    """Every earlier batch with its mean [MPa], carried to the typical maturity along the mean curve."""
    prior, cells = earlier.prior, earlier.cells
    at, _ = prior.at(_first(earlier, column))
    found = []
    for batch in np.flatnonzero(cells.is_held[:, column]):
        expected, _ = prior.at(cells.maturity_h[batch, [column]])
        found.append((earlier.names[batch], float(np.exp(cells.log_mean[batch, column] - expected[0] + at[0]))))
    return found


def _pour_table(
    search: Search, recommended: RatedChoice, earlier: EarlierBatches, early: EarlyBreaks | None
) -> IfThenTable | None:
    """The table of a pour: its law is linear, so no break changes the error of the others; odd pours get one more.

    None where early specimens are cured on site: each has a maturity of its own, so no band holds for all.
    """
    if early is None or early.recommended is None or not early.rows[early.recommended].ages_h:
        return None
    planned = search.plan.settings.pours
    if planned is not None and planned.curing == "site":
        return None
    row, settings = early.rows[early.recommended], search.plan.settings
    age_h, n = row.ages_h[0], row.specimens[0]
    column = earlier.column_of(age_h)
    if column is None:
        return None
    answer = _pour_answer(earlier, column, n, settings.choices.least_strength_mpa)
    bands, expected = _bands(earlier, column, n, answer, is_pour=True)
    setting = search.cells.settings.index(recommended.maturity)
    pours = pours_of_cells(search.cells, row.ages_h, settings.target.target_weights, setting=setting)
    replayed = _replayed_pours(pours, row.specimens, earlier, age_h, settings.choices.least_strength_mpa)
    return IfThenTable(
        age_h=age_h,
        n_specimens=n,
        expected_mpa=expected,
        bands=bands,
        error_planned=replayed.error_planned,
        error_followed=replayed.error_followed,
        specimens_planned=float(row.n_specimens),
        specimens_followed=row.n_specimens + replayed.n_added / earlier.cells.n_batches,
        n_batches=earlier.cells.n_batches,
        n_changed=replayed.n_changed,
        can_tell_strangers=earlier.cells.n_batches >= FEWEST_TO_TELL,
        noticed_deficit=_noticed(earlier, column, n),
    )


def _pour_answer(earlier: EarlierBatches, column: int, n: int, least_mpa: float) -> Callable[[float], _Tried]:
    from scipy.special import stdtrit

    middle, sd = _law(earlier, column, n)
    odd = float(stdtrit(earlier.cells.n_batches - 1, 1.0 - 0.5 * ODD))
    maturity = _first(earlier, column)

    def answer(mean_mpa: float) -> _Tried:
        if mean_mpa < least_mpa:
            return _Tried("move")
        broken = CellMeans(maturity_h=maturity, mean_mpa=np.array([mean_mpa]), n_specimens=np.array([float(n)]))
        if earlier.stranger(broken).is_stranger:
            return _Tried("stop")
        return _Tried("add" if abs(np.log(mean_mpa) - middle) > odd * sd else "go on")

    return answer


@dataclass(frozen=True, slots=True)
class _Replayed:
    """The table of a pour followed by every batch, held out as the pour."""

    error_planned: float
    error_followed: float
    n_added: int  # batches with one specimen more
    n_changed: int


def _replayed_pours(
    pours: Pours, specimens: tuple[int, ...], earlier: EarlierBatches, age_h: float, least_mpa: float
) -> _Replayed:
    more = np.array(specimens)
    more[-1] += 1
    errors = judge_early_plans(pours.held_out, np.array([specimens, more]))
    actions = [
        _held_out_action(earlier, batch, age_h, specimens[0], least_mpa) for batch in range(earlier.cells.n_batches)
    ]
    is_added = np.array([action == "add" for action in actions], dtype=np.int64)
    taken, check = is_added[pours.held_out.check_batch], np.arange(len(pours.held_out.check_batch))
    level, variance = errors.level(), errors.variance()
    weight = np.where(np.isfinite(level[0]), pours.check_weight, 0.0)
    share = weight / weight.sum()
    roots = [
        float(np.sqrt(max(np.nansum(share * level[at, check]), np.nansum(share * variance[at, check]))))
        for at in (np.zeros_like(taken), taken)
    ]
    return _Replayed(roots[0], roots[1], int(is_added.sum()), sum(action != "go on" for action in actions))


def _held_out_action(earlier: EarlierBatches, batch: int, age_h: float, n: int, least_mpa: float) -> Action:
    """What the others' table does with one batch; its mean is carried to their typical maturity."""
    broken, others = earlier.means_of(batch, age_h, n), earlier.without(batch)
    column = others.column_of(age_h)
    if broken is None or column is None:
        return "go on"
    own, typical = (float(others.prior.at(m)[0][0]) for m in (broken.maturity_h, _first(others, column)))
    return _pour_answer(others, column, n, least_mpa)(float(broken.mean_mpa[0] * np.exp(typical - own))).action
