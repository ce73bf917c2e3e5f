"""The append-only store of events: one table in a SQLite file, in PostgreSQL, or in memory.

An event is acknowledged only when it is on disk. Nothing is changed or removed. What cannot be understood, and what claims the
id of another event, is kept verbatim with the reason.

Every reading and every append begins at the last known row. When that row is no longer there, or a SQLite file is no longer the
file that was opened, the store is lost. New entries are then kept in memory and answered as `in memory only`; they are added
once the place holds again what it held. `seq` counts in the order of commit: while one adds, no other can add.

Other rooms use only `EventStore` and, for backups, `backup`. `batch` judges what comes in, `known` holds what was read, and an
implementation of `rows.Rows` keeps the rows: `sqlite`, `postgres`, `memory`.
"""

from dashboard.log.store.batch import Outcome, Quarantined
from dashboard.log.store.rows import without_password
from dashboard.log.store.store import EventStore

__all__ = ["EventStore", "Outcome", "Quarantined", "without_password"]
