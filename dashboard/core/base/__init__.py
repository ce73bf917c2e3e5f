"""Base: problems, times, minutes and words that every other room of the core stands on."""
