"""Who may do what: roles, the keys that show them, who signed in, and the record of what was refused."""
