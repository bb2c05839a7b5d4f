"""The shop floor: pages, forms, services and the logbook's store."""
