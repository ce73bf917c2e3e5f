"""Files and the store: reading and checking plans and logs, and keeping events."""
