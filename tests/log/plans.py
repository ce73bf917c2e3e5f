"""A plan with everything a plan file can say, and the file it is read from."""

from __future__ import annotations

FULL = """\
[sortie]
id = "lantern-t"
title = "Tray \\"swap\\" = [short]"
start = 2031-04-12T09:10:00.5Z
limit = "7:00"
reserve = 30
confidence = 0.85

[[lane]]
id = "EV1"
kind = "crew"
suit = "A"
[[lane]]
id = "EV2"
kind = "crew"
suit = "B"
[[lane]]
id = "ARM"
kind = "arm"

[[suit]]
id = "A"
[suit.oxygen]
loaded = 0.55
reserve = 0.09
[suit.battery]
loaded = 430
base = 55
per_watt = 0
[[suit]]
id = "B"
water = { loaded = 3.5, reserve = 0.4 }

[[worksite]]
id = "mast"
return = 12.5
[[window]]
kind = "daylight"
from = "0:32"
to = "3:00"

[[task]]
id = "T070"
lanes = ["EV1"]
start = "0:40"
duration = 20
workload = "light"
required = true
[[task]]
id = "T080"
title = "Swap, connect; check"
lanes = ["EV2", "ARM"]
start = "1:50"
duration = [30, 40.5, 65]
shortest = 25.5
after = ["T070"]
follows = [{ task = "T070", lag = 7.5 }]
priority = 3
value = 1.5
closeout = 6
can_move_to = ["EV1"]
worksite = "mast"
workload = 300
needs = ["daylight"]
not_before = "1:40"
activity = "connector swap"
[[task]]
id = "T090"
title = "=1+1"
lanes = ["EV1"]
duration = 20
get_ahead = true
follows = ["T070", "T080"]

[[contingency]]
id = "leak"
trigger = "Leak seen"
hold = ["T070"]
[[contingency.task]]
id = "C010"
lanes = ["EV1", "EV2"]
duration = 0.5

[[alternative]]
id = "ending"
default = "out side"
[alternative.options]
"out side" = ["T080"]
inside = []

[[check]]
id = "suit-read"
every = 30
lanes = ["EV1", "EV2"]
"""
