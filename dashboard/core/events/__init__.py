"""The events of the log: their kinds, the names that they use, and times far off the sortie."""
