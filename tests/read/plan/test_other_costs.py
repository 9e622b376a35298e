"""Currency, contingency and prices without a key of their own: what is read, and one message for what is not."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from planner.read.plan.programme_tables import CostsTable
from planner.terms.plan.settings import OtherCost

TRANSPORT = {"name": " transport ", "amount": 60, "per": "batch"}


def costs(**keys: object) -> CostsTable:
    return CostsTable.model_validate({"currency": "EUR", **keys})


def complaint(**keys: object) -> str:
    with pytest.raises(ValidationError) as caught:
        costs(**keys)
    (fault,) = caught.value.errors()
    return str(fault["ctx"]["error"])


def test_what_a_plan_writes_is_read() -> None:
    read = costs(other=[TRANSPORT, {"name": "concrete", "amount": 0.19, "per": "litre"}], contingency="7.5 %")
    assert read.other == (
        OtherCost(name="transport", amount=60.0, per="batch"),
        OtherCost(name="concrete", amount=0.19, per="litre"),
    )
    assert read.contingency == pytest.approx(0.075)
    assert read.check_visit is None
    assert costs(other=TRANSPORT).other == costs(other=[TRANSPORT]).other


def test_every_faulty_entry_is_named_at_once() -> None:
    found = complaint(
        other=[
            TRANSPORT,
            {"name": "report", "amount": -1, "per": "programme"},
            {"name": "van", "amount": 1e308, "per": "visits"},
            {"amount": 3, "per": "day", "unit": "EUR"},
            7,
        ]
    )
    assert "entry 1" not in found
    assert "entry 2: the amount -1 is negative" in found
    assert "entry 3: amount:" in found
    assert (
        'allowed are "programme"' in found.replace("programme, ", '"programme", ') or "allowed are programme" in found
    )
    assert '(the nearest is "visit")' in found
    assert 'entry 4: the key "unit" is not known; entry 4: name missing' in found
    assert "entry 5: given 7, which is no table" in found
    assert found.endswith('{name = "transport", amount = 60, per = "batch"}.')


@pytest.mark.parametrize("currency", ["Norwegian kroner", "EUR2", "a\nb", "", "  ", 5])
def test_a_currency_is_a_few_letters(currency: object) -> None:
    said = complaint(currency=currency)
    assert "Given" in said
    assert "a currency has 1 to 8 letters" in said  # it is required: nothing is said of leaving it out


@pytest.mark.parametrize("currency", ["EUR", "kr", "$", "US$", "kroner"])
def test_usual_currencies_are_taken(currency: str) -> None:
    assert costs(currency=currency).currency == currency


@pytest.mark.parametrize("contingency", ["-1 %", "100 %", 1.5, "ten"])
def test_a_contingency_is_a_share(contingency: object) -> None:
    assert "Given" in complaint(contingency=contingency)


def test_too_many_entries_and_too_long_names() -> None:
    assert "more than 30" in complaint(other=[TRANSPORT] * 31)
    assert "more than 40 letters" in complaint(other=[TRANSPORT | {"name": "x" * 41}])
