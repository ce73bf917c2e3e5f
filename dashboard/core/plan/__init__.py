"""The plan: its model, its fields as text, and its checks."""
