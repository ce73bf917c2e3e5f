"""Before the sortie: what the forecast of the brief finds, and what the brief can bear."""
