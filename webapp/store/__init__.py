"""The logbook's store: tables, engine, one writer, migrations, copies."""
