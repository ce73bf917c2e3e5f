"""Recorded runs of sorties, and the player that drives the board with them."""
