"""One invented study in seven shapes that laboratories keep."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Callable
from pathlib import Path

from planner.units import MPA_PER_PSI, fahrenheit_from_celsius
from tests.read.invented_study import Rows, csv_bytes, plan_text, xlsx_bytes

ZONE = "Europe/Oslo"
CAST = {
    "N1": dt.datetime(2027, 3, 27, 14, 0),
    "N2": dt.datetime(2027, 10, 30, 9, 30),  # both before a clock change
    "N3": dt.datetime(2027, 5, 10, 8, 0),
    "N4": dt.datetime(2027, 6, 14, 16, 45),
}
GROWN = {"N1": (44.0, 26.0), "N2": (49.0, 23.0), "N3": (40.0, 30.0), "N4": (46.0, 34.0)}  # ultimate [MPa], half [h]
CURINGS = ("standard", "site")
AGES = (12, 24, 48, 72)
SITE_AGES = (12, 24)  # companions beside the pour
WARMER = 1.3  # maturity of the site-cured over that of the standard-cured, about
CYLINDER = "cylinder 100x200 mm"
AREA = math.pi / 4 * 100.0**2


def strengths(batch: str, curing: str, age: int) -> tuple[float, ...]:
    """Two companions on a grid of 0.25 MPa, which no shape without units rounds."""
    if curing == "site" and age not in SITE_AGES:
        return ()
    ultimate, half = GROWN[batch]
    since = (age - 5.0) * (WARMER if curing == "site" else 1.0)
    base = round(4.0 * ultimate * since / (since + half)) / 4.0
    return (base - (0.25 if age == 24 else 0.5), base + 0.25)


def temperature(batch: str, curing: str, hour: int) -> float:
    base = 20.0 + (0.5 if batch == "N2" else 0.0)
    return base if curing == "standard" else base + 10.0 * math.exp(-((hour - 14) ** 2) / 60.0) // 0.25 * 0.25


def local(batch: str, hours: float) -> dt.datetime:
    """The wall clock so many true hours after casting."""
    zone = zoneinfo.ZoneInfo(ZONE)
    cast = CAST[batch].replace(tzinfo=zone).astimezone(dt.UTC)
    return (cast + dt.timedelta(hours=hours)).astimezone(zone)


def each_break() -> list[tuple[str, str, int, float]]:
    return [(b, c, age, value) for b in CAST for c in CURINGS for age in AGES for value in strengths(b, c, age)]


def each_reading() -> list[tuple[str, str, int, float]]:
    return [(b, c, hour, temperature(b, c, hour)) for b in CAST for c in CURINGS for hour in range(0, 97)]


def batch_rows() -> Rows:
    return [
        ["batch", "mix", "cast_at", "age_zero"],
        *([batch, "N", cast.isoformat(" ", "minutes"), "moulded"] for batch, cast in CAST.items()),
    ]


Shape = Callable[[], tuple[dict[str, bytes], str, dict[str, str]]]  # files, lines of [prior], more tables
ZONED = {"laboratory": f'time_zone = "{ZONE}"'}


def long_table() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks = [["batch", "mix", "geometry", "curing", "age_h", "strength_mpa"]]
    breaks += [[b, "N", CYLINDER, c, str(age), str(value)] for b, c, age, value in each_break()]
    readings: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    readings += [[b, c, hour, value] for b, c, hour, value in each_reading()]
    return {"breaks.csv": csv_bytes(breaks), "temperatures.csv": csv_bytes(readings)}, "", {}


def comma(value: float) -> str:
    return repr(value).replace(".", ",")


SAID = {"standard": "water", "site": "field"}  # other words for the same curing


def european_table() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["Batch", "Mix", "Curing", "Geometry", "Age", "Strength (N/mm²)"]]
    breaks += [[b, "N", SAID[c], "Cylinder 100 × 200 mm", f"{age} h", str(v).replace(".", ",")]
               for b, c, age, v in each_break()]  # fmt: skip
    readings: Rows = [["Batch", "Curing", "Elapsed (days)", "Temperature (°F)"]]
    readings += [[b, SAID[c], comma(hour / 24), comma(fahrenheit_from_celsius(v))]
                 for b, c, hour, v in each_reading()]  # fmt: skip
    files = {"breaks.csv": b"\xef\xbb\xbf" + csv_bytes(breaks, delimiter=";", newline="\r\n")}
    return files | {"temperatures.csv": csv_bytes(readings, delimiter=";")}, "", {}


def psi_workbooks() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["Test report", "", "", "", "", ""], ["", "", "", "", "", ""]]
    breaks += [["batch", "mix", "geometry", "curing", "age_d", "strength_psi"]]
    breaks += [[b, "N", CYLINDER, c, age / 24, value / MPA_PER_PSI] for b, c, age, value in each_break()]
    readings: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    readings += [[b, c, hour, value] for b, c, hour, value in each_reading()]
    files = {"breaks.xlsx": xlsx_bytes(breaks, before=("Cover",)), "temperatures.xlsx": xlsx_bytes(readings)}
    return files, "", {}


def clock_tables() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["batch", "geometry", "curing", "age_h", "tested_at", "strength_mpa"]]
    breaks += [[b, CYLINDER, c, age, local(b, age).isoformat(" ", "minutes"), v] for b, c, age, v in each_break()]
    readings: Rows = [["batch", "curing", "time", "temperature_c"]]
    readings += [[b, c, local(b, hour).strftime("%Y-%m-%d %H:%M"), v] for b, c, hour, v in each_reading()]
    files = {"breaks.csv": csv_bytes(breaks), "temperatures.csv": csv_bytes(readings)}
    return files | {"batches.csv": csv_bytes(batch_rows())}, 'batches = "batches.csv"', ZONED


def load_tables() -> tuple[dict[str, bytes], str, dict[str, str]]:
    files, _, _ = long_table()
    breaks: Rows = [["batch", "mix", "geometry", "curing", "age_h", "load_kn", "diameter_mm", "height_mm"]]
    breaks += [[b, "N", CYLINDER, c, age, value * AREA / 1000, 100, 200] for b, c, age, value in each_break()]
    return files | {"breaks.csv": csv_bytes(breaks)}, "", {}


def wide_and_logger() -> tuple[dict[str, bytes], str, dict[str, str]]:
    headings = ["batch", "mix", "geometry", "curing"] + [f"{age} h #{n}" for age in AGES for n in (1, 2)]
    wide: Rows = [headings]
    for b in CAST:
        for c in CURINGS:
            wide.append([b, "N", CYLINDER, c, *(v for age in AGES for v in strengths(b, c, age) or ("", ""))])
    probes = {(b, c): f"Probe {k}" for k, (b, c) in enumerate(((b, c) for b in CAST for c in CURINGS), 1)}
    logger: Rows = [["Logger 7, exported"], ["Time", *probes.values()]]
    moments = [(local(b, hour), (b, c), value) for b, c, hour, value in each_reading()]
    for moment, probe, value in sorted(moments, key=lambda entry: entry[0].timestamp()):
        cells = [value if probe == other else "---" for other in probes]
        logger.append([moment.strftime("%d.%m.%Y %I:%M %p"), *cells])
    files = {"breaks.csv": csv_bytes(wide), "temperatures.csv": csv_bytes(logger)}
    table = 'skip_rows = 1\ntime_format = "%d.%m.%Y %I:%M %p"\n'
    table += "columns = {" + ", ".join(f'"{name}" = "{b}/{c}"' for (b, c), name in probes.items()) + "}"
    files["batches.csv"] = csv_bytes(batch_rows())
    return files, 'batches = "batches.csv"', ZONED | {"temperature_file": table}


def date_cells() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["batch", "geometry", "curing", "age_h", "tested_at", "strength_ksi"]]
    breaks += [[b, CYLINDER, c, age, local(b, age).replace(tzinfo=None), v / MPA_PER_PSI / 1000]
               for b, c, age, v in each_break()]  # fmt: skip
    readings: Rows = [["batch", "curing", "time", "temperature_c"]]
    readings += [[b, c, local(b, hour).replace(tzinfo=None), v] for b, c, hour, v in each_reading()]
    batches = [batch_rows()[0], *([b, "N", cast, "moulded"] for b, cast in CAST.items())]
    files = {"breaks.xlsx": xlsx_bytes(breaks), "temperatures.xlsx": xlsx_bytes(readings)}
    return files | {"batches.xlsx": xlsx_bytes(batches)}, 'batches = "batches.xlsx"', ZONED


SHAPES: list[Shape] = [
    long_table, european_table, psi_workbooks, clock_tables, load_tables, wide_and_logger, date_cells,
]  # fmt: skip


def write_shape(folder: Path, shape: Shape, **changes: bytes) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    files, prior, tables = shape()
    for name, content in {
        **files,
        **{key.replace("__", "."): value for key, value in changes.items()},
    }.items():
        (folder / name).write_bytes(content)
    names = {name.split(".")[0]: name for name in files}
    lines = [f'{kind} = "{names[kind]}"' for kind in ("breaks", "temperatures")]
    tables = {"choices": CHOICES, "prior": "\n".join([*lines, prior]), **tables}
    path = folder / "plan.toml"
    path.write_text(plan_text(**tables), encoding="utf-8")
    return path


CHOICES = 'ages = ["12 h", "1 d", "2 d", "3 d"]\nfewest_ages = 3\nmost_ages = 4\nspecimens_per_age = [2, 4]'
