"""Looking ahead: the plan as it is walked through before the sortie."""
