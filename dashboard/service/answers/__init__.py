"""Answers that a desk computes on request: reasons, debrief, strip of a replay, what-if, taking a decision back, health."""
