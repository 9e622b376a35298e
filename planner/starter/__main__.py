"""``python -m planner.starter``: write the starter's plan again, after a comment or the order of keys has changed."""

from __future__ import annotations

import tomllib

from planner.starter import PLAN, STARTER, introduction
from planner.starter.plan_text import plan_text

path = STARTER / PLAN
path.write_text(plan_text(tomllib.loads(path.read_text("utf-8")), introduction=introduction()), "utf-8")
