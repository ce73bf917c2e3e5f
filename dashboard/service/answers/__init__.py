"""What a desk makes on request and in its own time: reasons, debrief, strip of a replay, what-if, taking a decision back."""
