"""The schedule: the forward pass, plan pace, durations, pace, the expected projection, ahead and behind."""
