"""Feeds: sources of events that the server follows by itself, one module per kind of source.

Rules of this room
------------------
1. Every entry of a feed goes through the intake of the desk, as an event that a person sends. A feed judges nothing itself.
2. An entry without an `id` gets an id computed from its source and content. If it has no `at` either, the id also depends on
   how often the file has held this content so far, and on the first entry of the file. Reading a source again therefore
   records nothing twice.
3. An entry that cannot be read, or that the intake refuses, is kept word for word among the unread lines, with its place and
   the reason. No entry of a feed is dropped.
4. An entry that the intake cannot keep (the store is lost) is handed over again until it is kept.
5. A feed without a connection or a file tries again after growing pauses, and says so. A feed that has brought nothing new
   for too long is stale (`dashboard.screens.ages`), and says so by its name.
"""
