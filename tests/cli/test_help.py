"""The help: whole at 80 columns, grouped, the same for both spellings; and usage errors in a sentence."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest

from planner.cli import main as program
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
NAMES = [command.__name__ for command, _ in program.COMMANDS]
# What users may have in their scripts; written down here, not read from the program.
OPTIONS = {
    "recommend": "--cast --trial --temperatures --figures --full --out --json --allow-outside --seed --draws --workers "
    "--resume --cluster",
    "score": "--schedule --out --json --allow-outside --seed --draws --workers",
    "price": "--out --json --allow-outside --seed --draws --workers",
    "minimum": "--at-least --full --out --json --allow-outside --seed --draws --workers",
    "curve": "--trial --curve --site-checks --pour --temperatures --out --json --allow-outside --seed --draws "
    "--workers",
    "sweep": "--targets --out --json --allow-outside --seed --draws --workers --resume --cluster",
    "check": "--tidy --allow-outside",
    "start": "",
}


def words(text: str) -> str:
    """The text without frames, on one line."""
    return " ".join(text.replace("│", " ").split())


def command_of(name: str) -> Any:
    return program.test_ages.commands[name]  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", NAMES)
def test_no_help_is_cut_short_at_80_columns(run: Run, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    ran = run(name, "--help")
    assert (ran.code, ran.err) == (0, "")
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    assert "…" not in ran.out
    command = command_of(name)
    assert words(command.help) in words(ran.out)
    for parameter in command.params:
        assert words(parameter.help) in words(ran.out), parameter.name
        for spelling in parameter.opts:
            assert spelling in ran.out or parameter.metavar in ran.out


def test_the_list_of_commands_is_grouped_and_whole(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    ran = run("--help")
    assert "…" not in ran.out
    for command, panel in program.COMMANDS:
        assert panel in ran.out
        assert f"{command.__name__} {words((command.__doc__ or '').split(chr(10) + chr(10))[0])}" in words(ran.out)
    assert words(ran.out).index("Questions") < words(ran.out).index("Plans and records")


@pytest.mark.parametrize("name", [[], *([name] for name in NAMES)])
def test_both_spellings_of_help_say_the_same(run: Run, name: list[str]) -> None:
    assert run(*name, "-h") == run(*name, "--help")


@pytest.mark.parametrize("name", OPTIONS)
def test_every_option_that_there_was_is_there(run: Run, name: str) -> None:
    ran = run(name, "--help").out
    for option in OPTIONS[name].split():
        assert f" {option} " in ran


def test_options_are_in_groups(run: Run) -> None:
    ran = run("recommend", "--help").out
    places = [ran.index(word) for word in ("─ Options", "--out", "How it is computed", "--draws", "Work of hours")]
    assert places == sorted(places)
    assert ran.index("Work of hours") < ran.index("--resume")


def test_without_a_command_the_help_is_shown_and_it_is_no_answer(run: Run) -> None:
    ran = run()
    assert ran.code == 2
    assert "recommend" in ran.out
    assert ran.err == ""


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("recomend", "plan.toml"), "Did you mean 'recommend'?"),
        (("recommend",), "Missing argument 'PLAN'"),
        (("recommend", "plan.toml", "--seed", "-1"), "Given -1; write a whole number, 0 or more."),
        (("recommend", "plan.toml", "--draws", "abc"), "Given abc; write a whole number, 1 or more."),
        (("price", "plan.toml", "--workers", "1.5"), "Given 1.5; write a whole number, 1 or more."),
        (("recommend", "plan.toml", "--draws", "many"), "'--draws'"),
        (("recommend", "plan.toml", "--workers", "0"), "'--workers'"),
        (("recommend", "plan.toml", "--figures"), "name a folder with --out"),
        (("recommend", "plan.toml", "--temperatures", "t.csv"), "give --trial with them"),
        (("recommend", "plan.toml", "--color"), "No such option"),
        (("recommend", "plan.toml", "more"), "unexpected extra argument"),
        (("score", "plan.toml"), "Missing option '--schedule'"),
    ],
)
def test_wrong_usage_is_one_message_with_a_way_on(run: Run, given: tuple[str, ...], said: str) -> None:
    ran = run(*given)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert len(ran.err.splitlines()) <= 3


def test_the_version_is_told(run: Run) -> None:
    ran = run("--version")
    assert (ran.code, ran.out) == (0, "test-ages, version 0.1.0\n")


@pytest.mark.parametrize(
    ("typed", "offered"), [("test-ages mi", "minimum"), ("test-ages recommend --fig", "--figures")]
)
def test_the_shell_completes_commands_and_options(typed: str, offered: str) -> None:
    asked = os.environ | {
        "_TEST_AGES_COMPLETE": "complete_bash", "COMP_WORDS": typed, "COMP_CWORD": str(len(typed.split()) - 1)
    }  # fmt: skip
    code = "from planner.cli.main import main; main()"
    done = subprocess.run([sys.executable, "-c", code], env=asked, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.split()) == (0, [offered])


@pytest.mark.parametrize("name", ["recommend", "sweep"])
def test_whoever_names_a_cluster_is_told_what_it_may_do(run: Run, name: str) -> None:
    said = words(run(name, "--help").out)
    assert "can run any code there" in said
    assert "tls://" in said
    assert "on one kind of processor" in said
