"""Whether casewright answers at all; the one thing told to everybody, and it tells nothing of the shop."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)


@router.get("/health")
def show_health() -> dict[str, str]:
    """Say that casewright answers."""
    return {"casewright": "answers"}
