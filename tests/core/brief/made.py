"""The plan that the tests of the brief share."""

from __future__ import annotations

from tests.scenario import plan_of, task

TEXT = (
    '[sortie]\nid = "t"\ntitle = "Pump"\nstart = 2031-04-12T09:10:00Z\nlimit = "3:00"\nreserve = 20\n'
    '[[lane]]\nid = "EV1"\nkind = "crew"\nsuit = "A"\n[[lane]]\nid = "EV2"\nkind = "crew"\n[[lane]]\nid = "ARM"\nkind = "arm"\n'
    '[[suit]]\nid = "A"\n[suit.battery]\nloaded = 400\nreserve = 30\nbase = 60\nper_watt = 0\n'
    '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "mast"\ntitle = "Lamp mast"\nreturn = 12\n'
    '[[window]]\nkind = "daylight"\nfrom = 20\nto = 80\n[[window]]\nkind = "daylight"\nfrom = 110\nto = 160\n'
    + task("OUT", "EV1 EV2", 0, 20, worksite="airlock", required=True)
    + task("LAMP", "EV1", "0:20", [20, 30, 50], title="Change the lamp", worksite="mast", needs=["daylight"], after=["OUT"],
           notes="Wrench in the left hand", priority=2, shortest=15, closeout=4, can_move_to=["EV2"])
    + task("CARRY", "ARM", 20, 45, worksite="mast", priority=2)
    + task("PREP", "EV2", 20, 15, worksite="mast")
    + task("JOIN", "EV1 EV2 ARM", 70, 20, after=["LAMP"], follows=[{"task": "CARRY", "lag": 5}], worksite="mast")
    + task("KEEP", "EV1", 90, 10, worksite="mast", priority=2)
    + task("LASH", "EV1", 90, 15, worksite="mast", priority=2)
    + task("HOME", "EV1 EV2", 105, 20, worksite="airlock", required=True)
    + task("CLEAN", "EV2", None, 12, get_ahead=True, worksite="mast")
    + '[[contingency]]\nid = "stuck"\ntrigger = "Lamp does not turn"\nhold = ["LAMP"]\n'
    '[[contingency.task]]\nid = "LEVER"\ntitle = "Lever on"\nlanes = ["EV1"]\nduration = 6\n'
    '[[contingency]]\nid = "glove"\ntrigger = "Glove is cut"\n[[contingency.task]]\nid = "LOOK"\nlanes = ["EV2"]\nduration = 5\n'
    '[[contingency]]\nid = "frost"\ntrigger = "Frost seen"\n'
    '[[contingency.task]]\nid = "WIPE"\nlanes = ["EV2"]\nduration = 5\nworksite = "mast"\nafter = []\n'
    '[[alternative]]\nid = "ending"\ntitle = "Keep or lash"\ndefault = "keep"\n'
    '[alternative.options]\nkeep = ["KEEP"]\nlash = ["LASH"]\n'
)
PLAN = plan_of(TEXT)


def changed(*changes: tuple[str, str]):
    """The plan with some of its text replaced; each old text stands there once."""
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return plan_of(text)
