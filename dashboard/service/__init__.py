"""The server: one desk that follows a session, the answers computed from it on request, and the HTTP interface."""
