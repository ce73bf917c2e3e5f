"""Recorded runs of sorties: reading, replay, rehearsal, simulation, scores and learning."""
