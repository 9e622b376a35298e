"""The fewest breaks that keep the target for every mix, what that costs each, and each mix left out in turn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.terms.arrays import IntArray
from planner.terms.results.minimum.family_figures import AgeShare, Envelope, FamilyRule, LeftOutMix, MemberUnderRule
from planner.verdict.answers.family.member import Member, codes_of


def envelope_of(members: Sequence[Member], *, target: str, age_h: float | None) -> Envelope:
    """Find the rule of all mixes that can keep the target, and hold it against each.

    Of the rules that keep the target for all, the one with the fewest specimens is taken, then with the fewest ages,
    then the one whose worst mix is read closest.
    """
    keys = codes_of(members)
    able = [at for at, member in enumerate(members) if member.is_keeping.any()]
    common = _common(members, keys, able)
    key = _fewest(members, keys, able, common)
    under = tuple(_under(member, keys[at], key) for at, member in enumerate(members))
    in_rule = [members[at] for at in able] if key is not None else []
    rule = None if key is None else members[able[0]].rule(_row(keys[able[0]], key))
    worst = _worst([item for at, item in enumerate(under) if at in able]) if key is not None else None
    return Envelope(
        target=target,
        age_h=age_h,
        rule=rule,
        n_common=len(common),
        members=under,
        left_out=tuple(_left_out(members, keys, at) for at in range(len(members))) if len(members) > 2 else (),
        shares=() if rule is None else _shares(in_rule, rule),
        worst_mix="" if worst is None else worst.mix,
        worst_loss=None if worst is None or worst.rms is None or worst.own_rms is None else worst.rms - worst.own_rms,
        unkept=tuple(member.mix for at, member in enumerate(members) if at not in able),
        latest_set_h=max((member.final_set_h for member in in_rule), default=0.0),
        temperature_c=_shared_temperatures(in_rule),
    )


def _common(members: Sequence[Member], keys: Sequence[IntArray], able: Sequence[int]) -> IntArray:
    """Keys that keep the target in every one of some mixes."""
    if not able:
        return np.empty(0, dtype=np.int64)
    found = keys[able[0]][members[able[0]].is_keeping]
    for at in able[1:]:
        found = found[np.isin(found, keys[at][members[at].is_keeping])]
    return found


def _fewest(members: Sequence[Member], keys: Sequence[IntArray], able: Sequence[int], common: IntArray) -> int | None:
    if not len(common):
        return None
    first = members[able[0]]
    rows = np.flatnonzero(np.isin(keys[able[0]], common) & first.is_keeping)
    worst = np.zeros(len(rows))
    for at in able:
        order = np.argsort(keys[at])
        places = order[np.searchsorted(keys[at][order], keys[able[0]][rows])]
        worst = np.maximum(worst, members[at].rms[places])
    n_ages = (first.counts[rows] > 0).sum(axis=1)
    best = int(rows[np.lexsort((worst, n_ages, first.n_specimens()[rows]))[0]])
    return int(keys[able[0]][best])


def _row(keys: IntArray, key: int) -> int:
    found = np.flatnonzero(keys == key)
    return int(found[0]) if found.size else -1


def _under(member: Member, keys: IntArray, key: int | None) -> MemberUnderRule:
    own = member.own_fewest()
    row = -1 if key is None else _row(keys, key)
    has_both = row >= 0 and own is not None
    n_specimens = member.n_specimens()
    return MemberUnderRule(
        plan=member.plan,
        mix=member.mix,
        is_offered=row >= 0,
        is_kept=bool(row >= 0 and member.is_keeping[row]),
        rms=float(member.rms[row]) if row >= 0 else None,
        own=None if own is None else member.rule(own),
        own_rms=None if own is None else float(member.rms[own]),
        specimens_more=int(n_specimens[row] - n_specimens[own]) if has_both else None,
        cost_more=float(member.cost[row] - member.cost[own]) if has_both and member.cost is not None else None,
        currency=member.currency,
    )


def _worst(under: Sequence[MemberUnderRule]) -> MemberUnderRule:
    return max(under, key=lambda item: item.rms or 0.0)


def _left_out(members: Sequence[Member], keys: Sequence[IntArray], out: int) -> LeftOutMix:
    """The rule that the others would make, held against the one left out."""
    member = members[out]
    able = [at for at in range(len(members)) if at != out and members[at].is_keeping.any()]
    key = _fewest(members, keys, able, _common(members, keys, able))
    if key is None:
        return LeftOutMix(plan=member.plan, mix=member.mix, rule=None, is_kept=None, rms=None)
    row = _row(keys[out], key)
    return LeftOutMix(
        plan=member.plan,
        mix=member.mix,
        rule=members[able[0]].rule(_row(keys[able[0]], key)),
        is_kept=bool(row >= 0 and member.is_keeping[row]),
        rms=float(member.rms[row]) if row >= 0 else None,
    )


def _shares(members: Sequence[Member], rule: FamilyRule) -> tuple[AgeShare, ...]:
    found = []
    for age_h in rule.schedule.ages_h:
        shares = [float(member.shares[int(np.argmin(np.abs(member.ages_h - age_h)))]) for member in members]
        found.append(AgeShare(age_h=age_h, least=min(shares), most=max(shares)))
    return tuple(found)


def _shared_temperatures(members: Sequence[Member]) -> tuple[float, float] | None:
    """The temperatures that every mix holds records of; None where some has none, or they do not meet."""
    ranges = [member.temperature_c for member in members if member.temperature_c is not None]
    if not members or len(ranges) < len(members):
        return None
    low, high = max(low for low, _ in ranges), min(high for _, high in ranges)
    return (low, high) if low <= high else None
