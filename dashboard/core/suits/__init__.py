"""The suits: physiology, readings, the budget of each consumable, and the way back."""
