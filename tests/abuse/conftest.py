"""What is thrown hangs on the seed alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis.internal.conjecture import providers


@pytest.fixture(autouse=True, scope="package")
def the_same_examples_whatever_is_loaded() -> Iterator[None]:
    """Keep hypothesis from drawing the constants of our source, which every change of it would change."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(providers, "_get_local_constants", lambda: providers.Constants())
        providers.CONSTANTS_CACHE.cache.clear()
        yield
