"""Monitoring of the server: metrics, viewers and their clocks, and its log.

The modules of this room do not know the desk. `dashboard.service.answers.health` gathers the values for them.
"""
