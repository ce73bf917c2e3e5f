"""The record: which events count, the fold over them, the life cycle of a task, and decisions taken back."""
