"""Forms: pydantic models of what a page asks, and their state on the way."""
