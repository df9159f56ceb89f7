"""How Alembic runs the revisions: on the transaction and with the settings of pool_api.store.

Comparing with tables.py sees tables, columns, indexes, constraints and the names of checks. It is blind to triggers,
policies, grants and the text of checks: tests/migrations tries what they forbid, and compares a committed listing.
"""

import os

from alembic import context
from alembic.util import CommandError

from pool_api.settings import read_settings
from pool_api.store.schema import migrating
from pool_api.store.tables import metadata

if context.is_offline_mode():
    raise CommandError("revisions are run on a database, not written out as a script")

with migrating(context.config.attributes.get("url") or read_settings(os.environ).database_url) as connection:
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        autogenerate_plugins=["alembic.autogenerate.*", "alembic.ext.checkconstraint_byname"],
    )
    with context.begin_transaction():
        context.run_migrations()
