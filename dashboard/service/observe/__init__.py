"""What is measured and said for those who look at the server from outside: metrics, viewers and their clocks, the log.

The modules of this room know nothing of the desk. What they are told is put together in `dashboard.service.answers.health`.
"""
