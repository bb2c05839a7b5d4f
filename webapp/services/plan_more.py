"""What a settled plan says beside its depth and its quench."""

from __future__ import annotations

from sqlmodel import Session

from webapp.forms.plans import PlanForm
from webapp.services.plan_edges import edges_figures
from webapp.services.plan_more_figures import MoreFigures
from webapp.services.plan_rows import PlanRows
from webapp.services.plan_sums import Believed, Settled
from webapp.services.plan_wants import wants_figures
from webapp.services.plan_ways import ways_figures
from webapp.services.soft_areas import carbon_figures, soft_figures


def more_figures(
    session: Session, rows: PlanRows, form: PlanForm, found: Settled, believed: Believed, tries: bool
) -> MoreFigures:
    """Return whether what is wanted goes together, the ways to harden, corners, and what stays soft.

    tries : other choices of the shop too, where the plan misses a want
    """
    return MoreFigures(
        wants=wants_figures(session, rows, form, found, believed, tries),
        ways=ways_figures(rows, form, found),
        edges=edges_figures(found),
        carbon=carbon_figures(found),
        soft=soft_figures(found, rows.part),
    )
