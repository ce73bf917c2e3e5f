"""The schedule: plan pace, durations, pace, the expected projection, ahead and behind."""
