"""``[[specimens]]``: what every key means, and each slip in one message: entry, what was given, what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.read import load_plan
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.problems import InputError

SLEEPERS = Path(__file__).resolve().parents[3] / "scenarios" / "sleepers"
CUBE = '[[specimens]]\ngeometry = "cube 100 mm"\n'


def plan(folder: Path, entries: str, *, laboratory: str = "", target: str = 'geometry = "cylinder 150x300 mm"') -> Path:
    """The sleepers' plan with other entries."""
    text = (SLEEPERS / "plan.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[[specimens]]")
    text = head.replace('geometry = "cylinder 150x300 mm"', target) + entries + "\n" + rest[rest.index("[costs]") :]
    for name in ("breaks.csv", "temperatures.csv"):
        (folder / name).write_bytes((SLEEPERS / name).read_bytes())
    path = folder / "plan.toml"
    path.write_text(text.replace("machine_kn = [20, 2000]", laboratory), encoding="utf-8")
    return path


def refused(folder: Path, entries: str, **given: str) -> str:
    with pytest.raises(InputError) as error:
        load_plan(plan(folder, entries, **given))
    return " ".join(f"{problem.column}: {problem.text}" for problem in error.value.problems)


def test_what_is_left_out_is_left_to_costs_and_laboratory(tmp_path: Path) -> None:
    (kind,) = load_plan(plan(tmp_path, CUBE)).settings.specimens
    assert kind == SpecimenKind(geometry="cube 100 mm")


def test_every_key(tmp_path: Path) -> None:
    entry = (
        f'{CUBE}specimen = 9\npreparation = 1\nbreak = 20\nminutes_per_break = 6\nwithin_test_cv = "4 %"\n'
        'factor = 0.85\nfactor_cv = "5 %"\n'
    )
    (kind,) = load_plan(plan(tmp_path, entry)).settings.specimens
    assert kind == SpecimenKind(
        geometry="cube 100 mm", specimen=9.0, preparation=1.0, break_one=20.0, minutes_per_break=6.0,
        within_test_cv=0.04, factor=0.85, factor_cv=0.05,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("entries", "wanted"),
    [
        ('[[specimens]]\ngeometry = "cone 100 mm"\n', ("geometry", "cone 100 mm")),
        ("[[specimens]]\nspecimen = 9\n", ("geometry",)),
        (CUBE + CUBE, ("cube 100 mm stands in entry 1 and in entry 2. Keep one.",)),
        (CUBE + '[[specimens]]\ngeometry = "cube 4 in"\n', ("entry 1 and in entry 2",)),
        (f"{CUBE}minutes_per_break = -5\n", ("minutes_per_break", "-5")),
        (f"{CUBE}specimen = -9\n", ("specimen", "-9")),
        (f'{CUBE}within_test_cv = "140 %"\n', ("within_test_cv", "140 %")),
        (f"{CUBE}factor = 0.85\n", ("factor_cv", "needs its scatter")),
        (f'{CUBE}factor = 850\nfactor_cv = "5 %"\n', ("factor", "850")),
        (
            '[[specimens]]\ngeometry = "cylinder 150x300 mm"\nfactor = 0.85\nfactor_cv = "5 %"\n',
            ("target's geometry, so nothing is converted",),
        ),
        (f"{CUBE}machine_kn = [20, 3000]\n", ("machine_kn",)),
        (f"{CUBE}price = 9\n", ("price",)),
    ],
)
def test_each_slip_is_named(tmp_path: Path, entries: str, wanted: tuple[str, ...]) -> None:
    text = refused(tmp_path, entries)
    for part in wanted:
        assert part in text, text


def test_without_what_the_specification_speaks_of(tmp_path: Path) -> None:
    two = CUBE + '[[specimens]]\ngeometry = "cube 150 mm"\n'
    assert "2 geometries could be cast, and nothing says which" in refused(tmp_path, two, target="")


def test_all_slips_come_in_one_message(tmp_path: Path) -> None:
    text = refused(tmp_path, f"{CUBE}minutes_per_break = -5\n" + CUBE + "specimen = -1\n")
    assert "minutes_per_break" in text
    assert "specimen" in text


@pytest.mark.parametrize("given", ["[3000, 20]", "[20, 20]", "[-1, 3000]", "[20]", '"strong"'])
def test_a_machine_the_wrong_way_round(tmp_path: Path, given: str) -> None:
    assert "machine_kn" in refused(tmp_path, CUBE, laboratory=f"machine_kn = {given}")


def test_aggregate_and_fibres_belong_to_the_mix(tmp_path: Path) -> None:
    path = plan(tmp_path, CUBE)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("final_set_h = 4", "final_set_h = 4\naggregate_mm = 22\nfibre_mm = 60"))
    settings = load_plan(path).settings
    assert (settings.aggregate_mm, settings.fibre_mm) == (22.0, 60.0)
    path.write_text(text.replace("final_set_h = 4", "final_set_h = 4\naggregate_mm = -22"))
    with pytest.raises(InputError, match="aggregate_mm"):
        load_plan(path)
