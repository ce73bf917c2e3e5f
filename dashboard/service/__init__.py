"""The server: one desk that follows a session, the answers made of it on request, and the HTTP interface."""
