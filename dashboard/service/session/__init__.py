"""What a desk follows: a live sortie, the replay of a recorded run, or a rehearsal on one."""
