"""Feeds: sources of events that the server follows by itself, one module per kind of source.

Rules of this room
------------------
1. Every entry of a feed goes through the intake of the desk, as an event that a person sends. A feed judges nothing itself.
2. An entry without an `id` gets one that follows from its source and its content; without an `at` as well, also from how
   often the file held this content so far, and from how the file begins. Reading a source once more therefore records
   nothing twice.
3. What cannot be read, and what the intake refuses, is kept word for word among the unread lines, with its place and the
   reason. Nothing of a feed is dropped.
4. What the intake cannot keep (the store is gone) waits, and is handed over again until it is kept.
5. A feed that has no connection or no file tries again, at growing distances, and says so. A feed that has brought nothing
   new for too long is stale (`dashboard.screens.ages`), and says so by its name.
"""
