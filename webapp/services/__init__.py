"""The use cases: the only rooms that write the logbook and the only ones that call the model."""
