"""What every table of a plan is, and how a key is described: for complaints, the starter and editors alike."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


def said(comment: str, example: object) -> Any:
    """What a person is told of a key: a comment that stands beside it, and a value as a plan would write it."""
    return Field(description=comment, examples=[example])


class PlanTable(BaseModel):
    """A table that refuses keys it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)
