"""The debrief: looking back on a sortie."""
