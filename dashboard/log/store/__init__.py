"""The append-only store of events: one table in a SQLite file, in PostgreSQL, or in memory.

An event is acknowledged only when it is on disk. Nothing is changed or removed: what cannot be understood, and
what claims the id of another event, is kept verbatim with the reason.

Every reading and every append begins at the last row that is known. When that one is no longer there, or a SQLite file is no
longer the file that was opened, the store is lost: what is entered is kept in memory, answered as `in memory only`, and added
once the place holds again what it held. `seq` counts in the order of commit: whoever adds keeps others from adding meanwhile.

`store.EventStore` is the one door. `batch` judges what comes in, `known` holds what was read, and the rows are kept by
one of the implementations of `rows.Rows`: `sqlite`, `postgres`, `memory`. `backup` writes and reads backups.
"""

from dashboard.log.store.batch import Outcome, Quarantined
from dashboard.log.store.rows import without_password
from dashboard.log.store.store import EventStore

__all__ = ["EventStore", "Outcome", "Quarantined", "without_password"]
