"""At which ages and in which concrete temperatures batches are drawn, and the maturities of both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.maturity import arrhenius_factor, constant_maturity
from planner.population.population_model import Population
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.maturity import MaturitySetting
from planner.terms.results.check_condition import CheckCondition, TruthSource


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Wanted:
    """The same for every drawn batch: standard-cured ages, and checks at each target and place."""

    ages_h: FloatArray  # (n_ages,)
    check_target: IntArray  # position of the target, (n_checks,)
    check_age_h: FloatArray  # (n_checks,)
    check_temperature_c: FloatArray  # mean concrete temperature; NaN: standard curing, (n_checks,)
    standard_c: float | None  # None: age stands for maturity
    scale_h: float  # hours of maturity in an hour of standard curing, as the population counts them
    q_range_k: tuple[float, float]

    @classmethod
    def of(
        cls,
        population: Population,
        ages_h: FloatArray,
        targets_h: tuple[float, ...],
        temperatures_c: FloatArray | None,
        is_waited_for: tuple[bool, ...] = (),
    ) -> Wanted:
        """Check every target at every site temperature, or as standard-cured where no range is given.

        A strength that is waited for comes later in cool concrete: it is checked at the age that gives concrete of
        that temperature, at the middle of the sensitivities, the maturity of the target's age under standard curing.
        """
        places = np.full(1, np.nan) if temperatures_c is None else temperatures_c
        check_age_h = np.repeat(np.array(targets_h), len(places))
        if temperatures_c is not None and population.standard_c is not None and any(is_waited_for):
            middle_k = sum(population.q_range_k) / 2.0
            faster = arrhenius_factor(places, q_k=middle_k, reference_c=population.standard_c)
            check_age_h = check_age_h / np.where(
                np.repeat(is_waited_for, len(places)), np.tile(faster, len(targets_h)), 1.0
            )
        return cls(
            ages_h=ages_h,
            check_target=np.repeat(np.arange(len(targets_h)), len(places)),
            check_age_h=check_age_h,
            check_temperature_c=np.tile(places, len(targets_h)),
            standard_c=population.standard_c,
            scale_h=population.scale_h,
            q_range_k=population.q_range_k,
        )

    def true_maturity_h(self, q_k: float) -> FloatArray:
        """Maturity of every age, then of every check, at the true sensitivity, ``(n_ages + n_checks,)``."""
        checks_h = self.check_age_h * self.scale_h
        if self.standard_c is not None:
            at_c = self._check_c(self.standard_c)
            checks_h = checks_h * arrhenius_factor(at_c, q_k=q_k, reference_c=self.standard_c)
        return np.concatenate([self.ages_h * self.scale_h, checks_h])

    def warmer_k(self) -> FloatArray:
        """How much warmer than standard curing every age, then every check is [K], ``(n_ages + n_checks,)``."""
        warmer = np.nan_to_num(self.check_temperature_c - (self.standard_c or 0.0))
        return np.concatenate([np.zeros(len(self.ages_h)), warmer])

    def cell_maturity_h(self, settings: tuple[MaturitySetting, ...]) -> FloatArray:
        """Maturity of the ages under each setting, ``(n_settings, n_ages)``."""
        standard_c = 0.0 if self.standard_c is None else self.standard_c
        return np.array([constant_maturity(self.ages_h, standard_c, setting) for setting in settings])

    def check_maturity_h(self, settings: tuple[MaturitySetting, ...]) -> FloatArray:
        """Maturity of the checks under each setting, ``(n_settings, n_checks)``."""
        at_c = self._check_c(0.0 if self.standard_c is None else self.standard_c)
        return np.array(
            [
                [
                    float(constant_maturity(np.array(age), c, setting))
                    for age, c in zip(self.check_age_h, at_c, strict=True)
                ]
                for setting in settings
            ]
        )

    def conditions(self) -> tuple[CheckCondition, ...]:
        """What each check stands for, ``(n_checks,)``."""
        return tuple(
            CheckCondition(TruthSource.DRAWN, "standard-cured" if np.isnan(c) else f"{c:.1f} C")
            for c in self.check_temperature_c
        )

    def _check_c(self, standard_c: float) -> FloatArray:
        return np.where(np.isnan(self.check_temperature_c), standard_c, self.check_temperature_c)
