"""The state: `follow`, its model, alerts, history, and the log in words."""
