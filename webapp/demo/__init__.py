"""The invented demo: a workshop that keeps a narrow-gauge railway's signal levers working.

Nothing in it is a real result. Its readings are drawn from a stated "true" forge by the model itself
plus noise, with a fixed seed; `truth` states that forge, so that a fit can be held against it.
"""

from __future__ import annotations

from webapp.demo.build import build_demo

__all__ = ["build_demo"]
