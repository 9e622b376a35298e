"""The numbers that hold on a batch nobody has seen, and the sentence that the batches support."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.resampling import Scoring
from planner.resampling.errors.arithmetic import (
    BOUND_CONFIDENCE,
    FEWEST_FOR_BOUNDS,
    SAFE_READING_CONFIDENCE,
    floored_rms,
)
from planner.terms.plan.settings import Prior, Target
from planner.terms.results.mix_errors import MixErrors
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import (
    FoldPick,
    Honest,
    NextBatchVerdict,
    OwnBatchVerdict,
    Rival,
)
from planner.verdict.selection.nested import Nested
from planner.verdict.selection.rule import Rule
from planner.verdict.selection.tie_rule import BootstrapVerdict
from planner.verdict.statistics.coverage_bounds import batches_needed
from planner.verdict.statistics.order_bounds import order_bound
from planner.verdict.statistics.tolerance_bounds import reach, rms_upper_bound, safe_reading_factor
from planner.verdict.validation.held_out_mixes import (
    highest_by_mix,
    mix_errors,
    safe_factor_of_mixes,
    signed_by_mix,
)
from planner.verdict.validation.next_batch import (
    NextBatchErrors,
    at_worst_target,
    batch_equivalents,
    next_batch_errors,
    next_batch_verdict,
    stated_verdict,
)
from planner.verdict.validation.own_batch import own_batch_verdict, target_verdicts
from planner.verdict.wording.held_out_words import (
    NO_TWO_BATCHES_OF_A_MIX,
    ONE_BATCH_NO_LATER_POUR,
    ONE_BATCH_NO_SAFE_READING,
    claim_words,
    later_words,
    one_batch_words,
    own_words,
    too_few_for_safe_reading,
    too_few_words,
)
from planner.verdict.wording.mix_words import quantile_words, safe_reading_words, share_words, tail_words


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """What the honest part is made from."""

    cells: Cells
    scoring: Scoring
    rule: Rule
    target: Target
    prior: Prior
    over_reading: float = 0.0  # that the constant may cause at an end of the site's range; lowers the safe reading

    def honest(
        self,
        recommended: RatedChoice,
        nested: Nested | None,
        bootstrap: BootstrapVerdict | None,
        rivals: tuple[Rival, ...],
    ) -> Honest:
        """Put everything together; plain refusals where there are too few batches."""
        if nested is None:
            return self._refused(recommended)
        own = own_batch_verdict(self.cells, self.scoring, nested, recommended.error, bootstrap)
        own_level = float(np.mean(nested.level))
        errors = next_batch_errors(self.rule.matrix, self.cells, self.scoring, nested)
        later, why_not = self._next_batch(errors, own_level, own.nested_rms)
        by_target = self._next_by_target(errors)
        mixes = self._mixes(nested, errors)
        factor, why_no_factor = self._safe_reading(nested, errors, mixes)
        factor = None if factor is None else factor * (1.0 + self.over_reading)
        return Honest(
            own_batch=own,
            next_batch=later,
            next_batch_unknown_because=why_not,
            best_nested_rms=floored_rms(nested.best_level, nested.best_variance),
            safe_reading_factor=factor,
            safe_reading_basis=None if factor is None else "own batch" if errors is None else "next batch",
            safe_reading_unknown_because=why_no_factor,
            per_target=target_verdicts(self.cells, self.scoring, nested, by_target),
            folds=self._folds(nested),
            rivals=rivals,
            sentence=self._sentence(own, later, why_not, nested, errors, mixes),
            mixes=mixes,
        )

    def _refused(self, recommended: RatedChoice) -> Honest:
        return Honest(
            own_batch=None,
            next_batch=None,
            next_batch_unknown_because=ONE_BATCH_NO_LATER_POUR,
            best_nested_rms=None,
            safe_reading_factor=None,
            safe_reading_basis=None,
            safe_reading_unknown_because=ONE_BATCH_NO_SAFE_READING,
            per_target=(),
            folds=(),
            rivals=(),
            sentence=one_batch_words(
                recommended.error.rms,
                n_needed=batches_needed(self.target.assurance),
                assurance=self.target.assurance,
            ),
        )

    def _next_batch(
        self, errors: NextBatchErrors | None, own_level: float, own_rms: float
    ) -> tuple[NextBatchVerdict | None, str]:
        if errors is not None and errors.n_batches >= 2:
            return next_batch_verdict(errors, self.scoring, own_level=own_level, own_rms=own_rms), ""
        if self.prior.between_batch_cv is not None:
            verdict = stated_verdict(self.prior.between_batch_cv, self.scoring, own_level=own_level, own_rms=own_rms)
            return verdict, ""
        return None, NO_TWO_BATCHES_OF_A_MIX

    def _next_by_target(self, errors: NextBatchErrors | None) -> dict[int, float]:
        if errors is None:
            return {}
        result = {}
        for target in np.unique(errors.target):
            is_own = errors.target == target
            mean = float(np.average(errors.level[is_own], weights=errors.weight[is_own]))
            result[int(target)] = float(np.sqrt(max(mean, 0.0)))
        return result

    def _mixes(self, nested: Nested, errors: NextBatchErrors | None) -> MixErrors | None:
        if not self.scoring.is_by_mix:
            return None
        return mix_errors(self.cells, nested, errors, assurance=self.target.assurance)

    def _safe_reading(
        self, nested: Nested, errors: NextBatchErrors | None, mixes: MixErrors | None
    ) -> tuple[float | None, str]:
        if mixes is not None:
            highest = highest_by_mix(self.cells, nested, errors)
            factor = safe_factor_of_mixes(highest, assurance=self.target.assurance)
            return factor, safe_reading_words(mixes) if factor is None else ""
        signed = nested.signed if errors is None else batch_equivalents(errors)
        factor = safe_reading_factor(signed, assurance=self.target.assurance, confidence=SAFE_READING_CONFIDENCE)
        return factor, too_few_for_safe_reading(len(signed)) if factor is None else ""

    def _folds(self, nested: Nested) -> tuple[FoldPick, ...]:
        matrix = self.rule.matrix
        folds = []
        for unit, pick, error in zip(nested.units, nested.picks, nested.signed, strict=True):
            joint = matrix.joint_of(pick.chosen)
            folds.append(
                FoldPick(
                    held_out=self.cells.unit_names[unit],
                    schedule=matrix.choices.schedule(matrix.choice_of(pick.chosen)),
                    curve=joint.curve,
                    weighting=joint.weighting,
                    maturity=joint.maturity,
                    error=float(error),
                )
            )
        return tuple(folds)

    def _sentence(
        self,
        own: OwnBatchVerdict,
        later: NextBatchVerdict | None,
        why_not: str,
        nested: Nested,
        errors: NextBatchErrors | None,
        mixes: MixErrors | None,
    ) -> str:
        number = Counter(pick.n_trial_batches for pick in nested.picks).most_common(1)[0][0]
        head = later_words(later, why_not, n_trial_batches=number, tolerance=self.target.tolerance)
        text = f"{head} {own_words(own)}"
        if mixes is None:
            return text + self._claim(nested, errors)
        parts = (quantile_words(mixes), text) if mixes.is_heavy_tailed else (text, quantile_words(mixes))
        return " ".join(parts) + tail_words(mixes) + self._claim_of_mixes(mixes, nested, errors)

    def _claim(self, nested: Nested, errors: NextBatchErrors | None) -> str:
        """The assurance sentence, or its refusal at the level so many batches support."""
        signed = batch_equivalents(at_worst_target(errors)) if errors is not None else nested.signed
        if len(signed) < FEWEST_FOR_BOUNDS:
            bound = rms_upper_bound(np.full(len(signed) + 5, np.sqrt(np.mean(nested.signed**2))))
            return too_few_words(len(signed), bound)
        needed = reach(signed, content=self.target.assurance, confidence=BOUND_CONFIDENCE)
        return claim_words(
            needed, assurance=self.target.assurance, tolerance=self.target.tolerance, n_batches=len(nested.units)
        )

    def _claim_of_mixes(self, mixes: MixErrors, nested: Nested, errors: NextBatchErrors | None) -> str:
        signed, _ = signed_by_mix(self.cells, nested, errors)
        return share_words(
            order_bound(np.abs(signed), share=self.target.assurance, confidence=BOUND_CONFIDENCE),
            assurance=self.target.assurance,
            tolerance=self.target.tolerance,
            n_mixes=mixes.n_mixes,
            fewest=batches_needed(self.target.assurance),
        )
