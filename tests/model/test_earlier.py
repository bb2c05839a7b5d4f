"""A belief read in the order of other names, and arguments solved fire by fire, against whole matrices."""

from __future__ import annotations

import numpy as np
import pytest

from model.argument_joint import Joint
from model.arrow import Covariance
from model.belief import ShopBelief
from model.earlier import Earlier
from model.evidence import Evidence
from model.linearised import at_point
from model.look import look
from tests.model.invented import InventedShop
from tests.model.logbooks import logbook, unread


@pytest.mark.property
def test_what_an_earlier_belief_knows_is_picked_and_the_rest_is_as_the_books_have_it() -> None:
    covariance = np.array([[0.5, 0.1, 0.0], [0.1, 0.4, -0.2], [0.0, -0.2, 0.9]])
    earlier = Earlier.of(
        ShopBelief(("a", "b", "c"), np.zeros(3), Covariance.whole(covariance)), ("c", "new", "a")
    )
    found = earlier.among(np.array([[0, 1, 2], [1, 1, 0]]))
    np.testing.assert_allclose(found[0], [[0.9, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 0.5]])
    np.testing.assert_allclose(found[1], [[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 0.9]])
    np.testing.assert_allclose(earlier.by(np.array([2, 1])), [[0.0, 0.0], [0.0, 1.0], [0.5, 0.0]])
    np.testing.assert_allclose(Earlier.of(ShopBelief(), ("a",)).among(np.zeros((1, 1), dtype=int)), [[[1.0]]])


@pytest.mark.property
def test_arguments_beside_a_fit_say_the_same_fire_by_fire_and_as_one_matrix() -> None:
    evidence = Evidence(logbook(InventedShop(5), 4), [], look)
    line = at_point(evidence, np.zeros(len(evidence.names)))
    rng = np.random.default_rng(3)
    scale = np.abs(line.jacobian).max(axis=1)
    moves = rng.standard_normal((len(scale), 2)) * scale[:, None]
    rows, design = Joint(evidence, line.touching, moves), np.hstack([line.jacobian, moves])
    curvature = 1.0 / scale**2
    told = (design.T * curvature) @ design
    joint = rows.told(curvature).plus(np.ones(len(told))).inverse()
    whole = np.linalg.inv(told + np.eye(len(told)))
    np.testing.assert_allclose(joint.full(), whole, atol=1e-10)
    predicted = design @ whole @ design.T
    np.testing.assert_allclose(rows.doubt(joint), np.sqrt(np.diag(predicted)), rtol=1e-8)
    fires = [one for alike in rows.by_fire(joint) for one in zip(*alike, strict=True)]
    assert sorted(point for points, _ in fires for point in points) == list(range(len(scale)))
    for points, among in fires:
        np.testing.assert_allclose(
            among / np.outer(scale, scale)[np.ix_(points, points)],
            (predicted / np.outer(scale, scale))[np.ix_(points, points)],
            atol=1e-9,
        )
    pulls = rng.standard_normal(len(scale))
    np.testing.assert_allclose(rows.gathered(pulls), design.T @ pulls, atol=1e-12)
    unknowns = rng.standard_normal(len(told))
    np.testing.assert_allclose(rows.along(unknowns), design @ unknowns, rtol=1e-9)
    apart = rows.doubt_apart(unread(evidence.layout), np.array([0.5, 2.0]))
    alone = np.diag(np.concatenate([np.ones(len(evidence.names)), [0.25, 4.0]]))
    np.testing.assert_allclose(apart, np.sqrt(np.diag(design @ alone @ design.T)), rtol=1e-9)
