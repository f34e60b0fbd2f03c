"""Runs the steps on the connection that is handed over; the record opens and closes the transaction."""

from alembic import context

from tracker.record.schema import metadata

if hasattr(context, "config"):  # only while steps are run; anyone may import this file
    context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
    with context.begin_transaction():
        context.run_migrations()
