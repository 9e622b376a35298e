"""Files made to harm: each ends in one clear message, in little time and memory, or does nothing at all."""

from __future__ import annotations

import io
import json
import os
import re
import resource
import struct
import subprocess
import sys
import time
import zipfile
import zlib
from functools import cache
from pathlib import Path

import openpyxl
import pytest

from planner.starter import STARTER
from tests.commands_here import run_here

PROGRAM = (sys.executable, "-m", "planner.cli.main")
MOST_MEMORY = 6_000_000_000  # address space [bytes]: far below what the files would unpack to
MOST_SECONDS = 45.0  # on a machine that is busy with other things
# Many plans in one process: starting it takes longer than any of them.
CHECKS = """
import io, json, sys, time
from contextlib import redirect_stderr, redirect_stdout
from planner.cli.main import main
for plan in sys.argv[1:]:
    out, err, begun = io.StringIO(), io.StringIO(), time.monotonic()
    try:
        with redirect_stdout(out), redirect_stderr(err):
            main(["check", plan])
    except SystemExit as left:
        print(json.dumps([left.code, out.getvalue(), err.getvalue(), time.monotonic() - begun]), flush=True)
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    folder = tmp_path / "plan"
    folder.mkdir()
    for path in STARTER.iterdir():
        if path.suffix in (".toml", ".csv"):
            (folder / path.name).write_bytes(path.read_bytes())
    return folder / "plan.toml"


def started(*command: object) -> subprocess.CompletedProcess[str]:
    """A process with little memory."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))

    done = subprocess.run(
        [*map(str, command)], capture_output=True, text=True, encoding="utf-8", check=False, timeout=120,
        preexec_fn=limit,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done


def refused(plan: Path, said: str) -> None:
    begun = time.monotonic()
    done = started(*PROGRAM, "check", plan)
    assert time.monotonic() - begun < MOST_SECONDS
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert len(done.stderr) < 5_000


def all_refused(plans: dict[Path, str]) -> None:
    """Each of these plans, one after the other in one process, with what is said of it."""
    done = started(sys.executable, "-c", CHECKS, *plans)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert (done.returncode, len(answers)) == (0, len(plans)), (list(plans)[len(answers) :][:1], done.stderr[-500:])
    for (plan, said), (code, found, err, seconds) in zip(plans.items(), answers, strict=True):
        assert (code, found) == (2, ""), plan
        assert said in err, plan
        assert len(err) < 5_000, plan
        assert "Traceback" not in err, plan
        assert seconds < MOST_SECONDS, plan


def copied(plan: Path, name: str) -> Path:
    """The same plan with its tables in a folder of its own."""
    folder = plan.parent.parent / name
    folder.mkdir()
    for path in plan.parent.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    return folder / plan.name


def use(plan: Path, breaks: str) -> None:
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace('breaks = "breaks.csv"', f'breaks = "{breaks}"'), encoding="utf-8")


@pytest.mark.parametrize("size", [250_000_000, 2_000_000_000])
def test_files_of_gigabytes(plan: Path, size: int) -> None:
    said = {"breaks.csv": "more than 200 MB", "temperatures.csv": "more than 200 MB", plan.name: "MB"}
    plans = {copied(plan, name): text for name, text in said.items()}
    for (other, _), name in zip(plans.items(), said, strict=True):
        with (other.parent / name).open("r+b") as stream:
            stream.truncate(size)  # a hole: takes no space
    all_refused(plans)


@pytest.mark.slow
def test_ten_million_rows(plan: Path) -> None:
    with (plan.parent / "breaks.csv").open("wb") as stream:
        stream.write(b"batch,age_h,strength_mpa\n")
        for _ in range(10):
            stream.write(b"B1,1,9\n" * 1_000_000)
    refused(plan, "more than 2,000,000 rows")


def bomb(member: str, n_megabytes: int) -> bytes:
    """A workbook of which one member unpacks to blanks without end."""
    packed, checksum = blanks(n_megabytes)
    stream, out = io.BytesIO(), io.BytesIO()
    openpyxl.Workbook().save(stream)
    with zipfile.ZipFile(stream) as sound, zipfile.ZipFile(out, "w") as made:
        for name in sound.namelist():
            if name != member:
                made.writestr(name, sound.read(name))
        made.writestr(member, packed)
        stored = made.getinfo(member)
        stored.compress_type, stored.CRC = zipfile.ZIP_DEFLATED, checksum
        stored.file_size = n_megabytes * 1_000_000
        at = stored.header_offset
    content = bytearray(out.getvalue())
    struct.pack_into("<H", content, at + 8, zipfile.ZIP_DEFLATED)
    struct.pack_into("<L", content, at + 14, checksum)
    struct.pack_into("<L", content, at + 22, n_megabytes * 1_000_000)
    return bytes(content)


@cache
def blanks(n_megabytes: int) -> tuple[bytes, int]:
    """Blanks as a zip archive packs them, and their checksum; every megabyte packs alike, so one is packed."""
    megabyte = b" " * 1_000_000
    packer = zlib.compressobj(1, zlib.DEFLATED, -zlib.MAX_WBITS)
    one = packer.compress(megabyte) + packer.flush(zlib.Z_FULL_FLUSH)
    checksum = 0
    for _ in range(n_megabytes):
        checksum = zlib.crc32(megabyte, checksum)
    return one * n_megabytes + packer.flush(), checksum


@pytest.mark.slow
@pytest.mark.parametrize("member", ["xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "[Content_Types].xml"])
def test_a_workbook_that_unpacks_without_end(plan: Path, member: str) -> None:
    content = bomb(member, 1_100)
    assert len(content) < 20_000_000
    (plan.parent / "breaks.xlsx").write_bytes(content)
    use(plan, "breaks.xlsx")
    refused(plan, "unpacks to 1.1 GB")


def lies(content: bytes) -> bytes:
    """The same archive, every stated size set to one byte."""
    changed = bytearray(content)
    for mark, at in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        for found in re.finditer(re.escape(mark), content):
            changed[found.start() + at : found.start() + at + 4] = (1).to_bytes(4, "little")
    return bytes(changed)


def test_a_workbook_that_lies_about_its_size(plan: Path) -> None:
    (plan.parent / "breaks.xlsx").write_bytes(lies(bomb("xl/worksheets/sheet1.xml", 300)))
    use(plan, "breaks.xlsx")
    refused(plan, "breaks.xlsx")


def test_entities_that_grow_without_end(plan: Path) -> None:
    laughs = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    head = f'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a0 "ha">{laughs}]>'
    text = f"{head}<worksheet><sheetData>&a11;</sheetData></worksheet>"
    stream, out = io.BytesIO(), io.BytesIO()
    openpyxl.Workbook().save(stream)
    with zipfile.ZipFile(stream) as sound, zipfile.ZipFile(out, "w") as made:
        for name in sound.namelist():
            made.writestr(name, text if name == "xl/worksheets/sheet1.xml" else sound.read(name))
    (plan.parent / "breaks.xlsx").write_bytes(out.getvalue())
    use(plan, "breaks.xlsx")
    refused(plan, "breaks.xlsx")


PLANS = {
    "open": "a = " + "[" * 100_000,
    "closed": "a = " + "[" * 100_000 + "]" * 100_000,
    "tables": "a = " + "{b = " * 50_000,
    "dotted": "[" + ".".join("a" * 9_000) + "]",
    "digits": "a = " + "9" * 100_000,
    "infinite": "a = 1e999999",
    "nul": "\x00" * 10,
    "unending": "a = '''" + "x" * 4_000_000,
}


def test_plans_that_are_nested_or_endless(plan: Path) -> None:
    plans = {}
    for name, text in PLANS.items():
        plans[copied(plan, name)] = "plan.toml"
        (plan.parent.parent / name / plan.name).write_text(text, encoding="utf-8")
    all_refused(plans)


PATHS = (
    "../../etc/passwd.csv", "/etc/passwd", "~/breaks.csv", "C:\\breaks.csv", "\\\\host\\share\\b.csv", "a\\u0000.csv",
)  # fmt: skip


def test_paths_links_and_pipes_that_lead_elsewhere(plan: Path, tmp_path: Path) -> None:
    plans = {}
    for number, path in enumerate(PATHS):
        other = copied(plan, f"path {number}")
        use(other, path.replace("\\", "\\\\").replace("\\\\u", "\\u"))
        plans[other] = ":"
    linked, endless = copied(plan, "link"), copied(plan, "pipe")
    outside = tmp_path / "outside.csv"
    (linked.parent / "breaks.csv").rename(outside)
    (linked.parent / "breaks.csv").symlink_to(outside)
    (endless.parent / "breaks.csv").unlink()
    os.mkfifo(endless.parent / "breaks.csv")
    all_refused({**plans, linked: "leaves the folder", endless: "no ordinary file"})


ALIVE = (
    "=cmd|' /C calc'!A0",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "@SUM(1+1)",
    "]]></style><script>alert(2)</script>",
    "B\u202e1",
)
TITLE = '=HYPERLINK("http://a.invalid")</script><script>alert(3)</script>\\r\\nBEGIN:VEVENT\\r\\nSUMMARY:x'


@pytest.mark.slow
def test_nothing_from_the_data_comes_alive_in_any_output(plan: Path, tmp_path: Path) -> None:
    for name in ("breaks.csv", "temperatures.csv"):
        text = (plan.parent / name).read_text(encoding="utf-8")
        batches = sorted(set(re.findall(r"^([^,\n]+),", text, flags=re.MULTILINE)) - {"batch"})
        for batch, evil in zip(batches, ALIVE, strict=True):
            text = re.sub(rf"^{re.escape(batch)},", lambda _m, e=evil: f'"{e}",', text, flags=re.MULTILINE)  # type: ignore[misc]
        (plan.parent / name).write_text(text, encoding="utf-8")
    text = plan.read_text(encoding="utf-8")
    text = re.sub(r'^title = "[^"]*"', lambda _m: "title = " + quoted(TITLE), text, flags=re.MULTILINE)
    text = re.sub(r'^name = "[^"]*"', lambda _m: "name = " + quoted(TITLE), text, flags=re.MULTILINE)
    plan.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    ended = run_here("recommend", plan, "--draws", 20, "--out", out, "--cast", "2027-03-01 09:00")
    assert ended.code == 0, ended.err
    assert "\x1b" not in ended.out
    assert "\u202e" not in ended.out
    page = (out / "report.html").read_text(encoding="utf-8")
    assert not re.search(r"<script>\s*alert|<img src=x|</style><script>", page)
    book = openpyxl.load_workbook(out / "workbook.xlsx")
    formulas = [str(c.value) for s in book for row in s.iter_rows() for c in row if c.data_type == "f"]
    assert not [formula for formula in formulas if re.search(r"cmd|HYPERLINK|calc|@SUM", formula)]
    calendar = (out / "breaks.ics").read_text(encoding="utf-8")
    n_events = len(re.findall(r"^BEGIN:VEVENT", calendar, flags=re.MULTILINE))
    assert n_events == len(re.findall(r"^UID:", calendar, flags=re.MULTILINE)) > 0
    for line in (out / "choices.csv").read_text(encoding="utf-8").splitlines():
        assert not [cell for cell in line.split(",") if cell.startswith(("=", "@"))]


def quoted(text: str) -> str:
    return '"' + text.replace('"', '\\"') + '"'
