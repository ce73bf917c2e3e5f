"""Cross-checks of a plan: rules that involve more than one field. Each check is one small function in `CHECKS`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import islice
from typing import Any, NamedTuple

from dashboard.core.base.minutes import clock
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.plan.fields import Finding, Place, key_place, read_tables, split_place
from dashboard.core.plan.finding_kinds import STRUCTURE
from dashboard.core.plan.model import CONSUMABLES, Plan, Task

LONG_TASK_MIN = 12 * 60.0
MOST_OVERLAPS = 200  # reported per lane; a plan with more overlaps is wrong as a whole


def check_plan(plan: Plan) -> list[Problem]:
    """Run every cross-check.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of Problem
        In each one `where` names the table and the key.
    """
    return [replace(finding.problem, where=_where(plan, finding.place)) for finding in findings_of(plan)]


def findings_of(plan: Plan) -> list[Finding]:
    """Run every cross-check, and give each problem with its place in the tables of the plan file.

    Parameters
    ----------
    plan
        A plan that has passed the field checks, or what of it could be read.

    Returns
    -------
    list of Finding
        In the order of `CHECKS`; empty when the plan is sound.
    """
    return [finding for check in CHECKS for finding in check(plan)]


def examine_tables(tables: Mapping[str, Any]) -> tuple[Plan | None, list[Finding]]:
    """Build a plan from plain tables, and find every problem of its fields and cross-checks.

    When fields are wrong, the other fields are still cross-checked. A cross-check finding about a wrong field is left out.

    Parameters
    ----------
    tables : mapping of str to any
        The tables of a plan file, as plain dictionaries and lists.

    Returns
    -------
    tuple of (Plan or None, list of Finding)
        The plan is None when an error makes it impossible to follow.
    """
    plan, findings, taken_out = read_tables(tables)
    if plan is not None:
        findings = [*findings, *(f for f in findings_of(plan) if key_place(f.place) not in taken_out)]
    usable = None if any(finding.problem.refuses for finding in findings) else plan
    return usable, findings


def build_plan(tables: Mapping[str, Any]) -> Plan:
    """Build a plan from plain tables.

    Parameters
    ----------
    tables : mapping of str to any
        The tables of a plan file, as plain dictionaries and lists.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        When an error makes the plan impossible to follow. It carries every problem that was found.
    """
    plan, findings = examine_tables(tables)
    if plan is None:
        raise InputError([finding.problem for finding in findings])
    return plan


def _pet_text(minutes: float) -> str:
    """A PET for the text of a problem: ``PET 1:50``."""
    return f"PET {clock(minutes, 'nearest')}"


def _minutes_text(minutes: float) -> str:
    """A length of time for the text of a problem: ``7.5 min``."""
    return f"{round(minutes, 1):g} min"


class _Placed(NamedTuple):
    """A task, its place in the plan file, and the contingency that it belongs to."""

    task: Task
    place: Place
    contingency: str | None

    def key(self, key: str) -> Place:
        return (*self.place, key)

    @property
    def name(self) -> str:
        return f"task {self.task.id}"


def _placed_tasks(plan: Plan) -> list[_Placed]:
    found = [_Placed(task, ("task", at), None) for at, task in enumerate(plan.tasks)]
    for at, contingency in enumerate(plan.contingencies):
        found += [
            _Placed(task, ("contingency", at, "task", step), contingency.id)
            for step, task in enumerate(contingency.tasks)
        ]
    return found


def _where(plan: Plan, place: Place) -> str:
    placed = {p.place: p.name for p in _placed_tasks(plan)}
    item, below = split_place(place)
    named = placed.get(item) or " ".join(str(part + 1) if isinstance(part, int) else part for part in item)
    return ", ".join(part for part in (named, f"key '{below[0]}'" if below else "") if part)


def _finding(
    code: str, place: Place, subject: str, expected: str, found: str, cure: str, severity: str = "error",
    *, can_be_followed: bool = False, consequence: str = "",
) -> Finding:
    problem = Problem(
        subject, expected, found, cure, severity=severity, can_be_followed=can_be_followed, code=code,
        consequence=consequence or STRUCTURE[code].follows,
    )
    return Finding(place, problem)


# --- names ----------------------------------------------------------------------------------------


def _duplicate_names(plan: Plan) -> Iterator[Finding]:
    tables: dict[str, Iterable[Any]] = {
        "lane": plan.lanes, "suit": plan.suits, "worksite": plan.worksites,
        "contingency": plan.contingencies, "alternative": plan.alternatives, "check": plan.checks,
    }
    named: list[tuple[str, str, Place]] = [
        (kind, item.id, (kind, at)) for kind, items in tables.items() for at, item in enumerate(items)
    ]
    named += [("task", placed.task.id, placed.place) for placed in _placed_tasks(plan)]
    first: dict[tuple[str, str], Place] = {}
    for kind, name, place in named:
        if (kind, name) in first:
            yield _finding(
                "name-twice", (*place, "id"), f"{kind} {name}", f"each {kind} name once",
                f"'{name}' a second time (first as {_ordinal(first[kind, name])})", f"Rename one of the two {kind}s.",
            )
        first.setdefault((kind, name), place)


def _ordinal(place: Place) -> str:
    return ", ".join(f"{place[at]} number {int(place[at + 1]) + 1}" for at in range(0, len(place), 2))


def _unknown_names(plan: Plan) -> Iterator[Finding]:
    lanes, briefed = set(plan.lane_ids()), {task.id for task in plan.tasks}
    suits, everything = {suit.id for suit in plan.suits}, set(plan.all_tasks())
    worksites = {site.id for site in plan.worksites}
    kinds = {window.kind for window in plan.windows}
    uses: list[tuple[Place, str, str, str, set[str]]] = []
    for at, lane in enumerate(plan.lanes):
        if lane.suit is not None:
            uses.append((("lane", at, "suit"), f"lane {lane.id}", "suit", lane.suit, suits))
    for placed in _placed_tasks(plan):
        task = placed.task
        for key, kind, names, known in (
            ("lanes", "lane", task.lanes, lanes),
            ("can_move_to", "lane", task.can_move_to, lanes),
            ("worksite", "worksite", (task.worksite,) if task.worksite else (), worksites),
            ("leg", "worksite", (task.leg,) if task.leg else (), worksites),
            ("after", "task", task.after, everything if placed.contingency else briefed),
            ("follows", "task", tuple(f.task for f in task.follows), everything),
            ("obliges", "task", task.obliges, everything),
            ("serves", "task", task.serves, everything),
            ("needs", "kind of window", task.needs, kinds),
        ):
            uses += [((*placed.key(key), i), placed.name, kind, name, known) for i, name in enumerate(names)]
    for at, route in enumerate(plan.routes):
        ends = (("from", route.from_), ("to", route.to))
        uses += [(("route", at, key), f"route {at + 1}", "worksite", name, worksites) for key, name in ends]
    for at, contingency in enumerate(plan.contingencies):
        uses += [
            (("contingency", at, "hold", i), f"contingency {contingency.id}", "task", name, everything)
            for i, name in enumerate(contingency.hold)
        ]
    for at, alternative in enumerate(plan.alternatives):
        uses += [
            (("alternative", at, "options", option, i), f"alternative {alternative.id}", "task", name, briefed)
            for option, names in alternative.options.items() for i, name in enumerate(names)
        ]
    for at, check in enumerate(plan.checks):
        uses += [(("check", at, "lanes", i), f"check {check.id}", "lane", n, lanes) for i, n in enumerate(check.lanes)]
    for place, subject, kind, name, known in uses:
        if name not in known:
            yield _unknown(place, subject, kind, name, known, everything)


def _unknown(
    place: Place, subject: str, kind: str, name: str, known: set[str], all_tasks: set[str]
) -> Finding:
    key, own_name = split_place(place)[1][0], subject.rpartition(" ")[2]
    subject = f"{subject}, key '{key}'"
    if kind == "task" and name in all_tasks:
        return _finding(
            "name-unknown", place, subject, "the name of a briefed task", f"'{name}', a task of a contingency",
            "Name a task that is in the plan whatever happens.",
        )
    table = "window" if kind == "kind of window" else kind
    cure = did_you_mean(name, known - {own_name}) if known else f"Add [[{table}]] for it."
    return _finding("name-unknown", place, subject, f"the name of a known {kind}", f"'{name}'", cure)


def _cycles(plan: Plan) -> Iterator[Finding]:
    placed = {p.task.id: p for p in _placed_tasks(plan)}
    before = {
        name: {other for other in (*p.task.after, *(f.task for f in p.task.follows)) if other in placed}
        for name, p in placed.items()
    }
    while cycle := _find_cycle(before):
        names = [*cycle, cycle[0]]
        key = "after" if cycle[-1] in placed[cycle[0]].task.after else "follows"
        yield _finding(
            "order-in-a-circle", placed[cycle[0]].key(key), f"{placed[cycle[0]].name}, keys 'after' and 'follows'",
            "an order without a circle", f"{' -> '.join(names)} (each before the next)",
            "Take one of these links out.",
        )
        before = {name: others for name, others in before.items() if name not in cycle}


def _find_cycle(before: Mapping[str, set[str]]) -> list[str]:
    """Find one cycle: a list of names, each before the next. Empty when there is no cycle."""
    after: dict[str, list[str]] = defaultdict(list)
    waiting = {}
    for name, others in before.items():
        here = others & before.keys()
        waiting[name] = len(here)
        for other in here:
            after[other].append(name)
    free = [name for name, count in waiting.items() if count == 0]
    while free:
        name = free.pop()
        del waiting[name]
        for later in after[name]:
            waiting[later] -= 1
            if waiting[later] == 0:
                free.append(later)
    if not waiting:
        return []
    walk, seen = [next(iter(waiting))], {}
    while walk[-1] not in seen:  # each task still waiting has a predecessor that is still waiting
        seen[walk[-1]] = len(walk) - 1
        walk.append(min(other for other in before[walk[-1]] if other in waiting))
    circle = walk[seen[walk[-1]]:-1][::-1]
    first = circle.index(min(circle))
    return circle[first:] + circle[:first]


# --- lanes and suits ------------------------------------------------------------------------------


def _lanes_and_suits(plan: Plan) -> Iterator[Finding]:
    if not plan.crew_lane_ids():
        yield _finding("no-crew", ("lane", 0), "the lanes", "at least one lane of kind 'crew'", "none",
                       'Write kind = "crew" for the lanes of the crew members.')
    wearer: dict[str, str] = {}
    for at, lane in enumerate(plan.lanes):
        place: Place = ("lane", at, "suit")
        subject = f"lane {lane.id}, key 'suit'"
        if lane.kind != "crew" and lane.suit is not None:
            yield _finding("suit-without-crew", place, subject,
                           f"no suit for a lane of kind '{lane.kind}'", f"suit '{lane.suit}'",
                           "Take the key out, or make the lane a crew lane.")
        elif lane.kind == "crew" and lane.suit is None:
            yield _finding("no-suit", ("lane", at), subject, "the suit of this crew member", "none",
                           'Write for example suit = "A"; without it this lane has no suit budget.', "caution")
        elif lane.suit is not None and lane.suit in wearer:
            yield _finding("suit-worn-twice", place, subject, "a suit for each crew member",
                           f"suit '{lane.suit}', which lane {wearer[lane.suit]} already wears",
                           "Give one of the two lanes another suit.")
        elif lane.suit is not None:
            wearer[lane.suit] = lane.id
    for at, suit in enumerate(plan.suits):
        if suit.id not in wearer:
            yield _finding("suit-not-worn", ("suit", at), f"suit {suit.id}", "a crew lane that wears it", "none",
                           f'Write suit = "{suit.id}" in a lane, or take the suit out.', "caution")
        if not suit.consumables():
            yield _finding("suit-without-consumables", ("suit", at),
                           f"suit {suit.id}", f"at least one of {', '.join(CONSUMABLES)}", "none",
                           f"Add for example [suit.{CONSUMABLES[0]}]; without it there is no suit budget.", "caution")


# --- times ----------------------------------------------------------------------------------------


_OVERLAP_CURE = "Move one of them, shorten it, or give it to another lane."
_OPTION_TAKEN = "This is so only if {} is taken. Say in the brief what moves then."


def _overlaps(plan: Plan) -> Iterator[Finding]:
    found: dict[tuple[Place, Place], tuple[_Placed, _Placed, float, list[str]]] = {}
    exclusive, only_if = _exclusive(plan), _only_if(plan)
    for lane in plan.lane_ids():
        for early, late, minutes in islice(_overlaps_in(plan, lane, exclusive), MOST_OVERLAPS):
            found.setdefault((early.place, late.place), (early, late, minutes, []))[3].append(lane)
    for early, late, minutes, lanes in found.values():
        end = _end(early.task)
        option = only_if(early.task.id, late.task.id)
        cure, severity = (_OPTION_TAKEN.format(option), "note") if option else (_OVERLAP_CURE, "error")
        yield _finding(
            "overlap", late.key("start"), f"{late.name} in lane{'s' if len(lanes) > 1 else ''} {', '.join(lanes)}",
            f"a start when {early.name} is over ({_pet_text(end)})",
            f"a start at {_pet_text(late.task.start or 0.0)}: they overlap by {_minutes_text(minutes)}",
            cure, severity,
        )


def _overlaps_in(
    plan: Plan, lane: str, exclusive: Callable[[str, str], bool]
) -> Iterator[tuple[_Placed, _Placed, float]]:
    briefed = [p for p in _placed_tasks(plan) if _is_briefed(p) and lane in p.task.lanes]
    briefed.sort(key=lambda p: p.task.start or 0.0)
    running: list[_Placed] = []
    for late in briefed:
        start = late.task.start or 0.0
        running = [early for early in running if _end(early.task) > start + 1e-9]
        for early in running:
            minutes = min(_end(early.task), _end(late.task)) - start
            if minutes > 1e-9 and not exclusive(early.task.id, late.task.id):
                yield early, late, minutes
        running.append(late)


def _exclusive(plan: Plan) -> Callable[[str, str], bool]:
    """Whether two tasks belong to different options of one alternative."""
    options: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for alternative in plan.alternatives:
        for option, names in alternative.options.items():
            for name in names:
                options[name][alternative.id].add(option)

    def exclusive(one: str, other: str) -> bool:
        if one not in options or other not in options:
            return False
        shared = options[one].keys() & options[other].keys()
        return any(not options[one][name] & options[other][name] for name in shared)

    return exclusive


def _only_if(plan: Plan) -> Callable[[str, str], str]:
    """In words, the option that is not the default and without which two tasks are not both in the plan; empty: they are."""
    optional = _non_default(plan)

    def only_if(one: str, other: str) -> str:
        first, second = optional.get(one), optional.get(other)
        found = first or second
        return f"option '{found[1]}' of {found[0]}" if found and first != second else ""

    return only_if


def _is_briefed(placed: _Placed) -> bool:
    return placed.contingency is None and placed.task.start is not None and not placed.task.get_ahead


def _end(task: Task) -> float:
    return (task.start or 0.0) + task.likely_min


def _order(plan: Plan) -> Iterator[Finding]:
    only_if = _only_if(plan)
    briefed = {p.task.id: p for p in _placed_tasks(plan) if _is_briefed(p)}
    for placed in briefed.values():
        task, start = placed.task, placed.task.start or 0.0
        links = [("after", name, 0.0) for name in task.after] + [("follows", f.task, f.lag) for f in task.follows]
        for key, name, lag in links:
            if name not in briefed or name == task.id:
                continue
            earliest = _end(briefed[name].task) + lag
            if start < earliest - 1e-9:
                option = only_if(task.id, name)
                cure = _OPTION_TAKEN.format(option) if option else f"Start it later, start {name} earlier, or take '{key}' out."
                lag_text = f" with a lag of {_minutes_text(lag)}" if lag else ""
                yield _finding(
                    "start-against-link", placed.key("start"), placed.name,
                    f"a start at {_pet_text(earliest)} or later: '{key}' puts it behind task {name}{lag_text}",
                    f"a start at {_pet_text(start)}, {_minutes_text(earliest - start)} too early",
                    cure, "note" if option else "error",
                )


def _not_before_and_windows(plan: Plan) -> Iterator[Finding]:
    for placed in _placed_tasks(plan):
        task = placed.task
        if not _is_briefed(placed) or task.start is None:
            continue
        if task.not_before is not None and task.start < task.not_before - 1e-9:
            yield _finding(
                "before-not-before", placed.key("start"),
                placed.name, f"a start at {_pet_text(task.not_before)} or later (its 'not_before')",
                f"a start at {_pet_text(task.start)}, {_minutes_text(task.not_before - task.start)} too early",
                "Start it later, or correct 'not_before'.", "caution",
            )
        for kind in task.needs:
            windows = [window for window in plan.windows if window.kind == kind]
            held = any(w.from_ - 1e-9 <= task.start and _end(task) <= w.to + 1e-9 for w in windows)
            if windows and not held:
                yield _finding(
                    "outside-window", placed.key("start"), placed.name, f"a time inside one window of kind '{kind}'",
                    f"{_pet_text(task.start)} to {_pet_text(_end(task))}; windows: "
                    + ", ".join(f"{_pet_text(w.from_)} to {_pet_text(w.to)}" for w in windows[:6]),
                    "Move the task into a window, or correct the windows.", "caution",
                )


def _starts(plan: Plan) -> Iterator[Finding]:
    optional = _non_default(plan)
    for placed in _placed_tasks(plan):
        task = placed.task
        if placed.contingency is not None:
            if task.start is not None:
                yield _finding(
                    "start-in-contingency", placed.key("start"),
                    f"{placed.name}, key 'start'", "no start for a task of a contingency",
                    _pet_text(task.start), "Take the key out: its tasks begin when the contingency is inserted.",
                )
        elif task.get_ahead and task.start is not None:
            yield _finding(
                "get-ahead-with-start", placed.key("start"),
                f"{placed.name}, key 'start'", "no start for a get-ahead", _pet_text(task.start),
                "Take the key out: a get-ahead is done only with time in hand.", "caution",
            )
        elif task.start is None and not task.get_ahead and task.id not in optional:
            yield _finding(
                "no-start", placed.key("start"), f"{placed.name}, key 'start'", "a briefed start", "none",
                'Write for example start = "1:50", or get_ahead = true if it is done only with time in hand.',
            )


def _non_default(plan: Plan) -> dict[str, tuple[str, str]]:
    """For each task that only a non-default option brings into the plan: its alternative and option."""
    found = {
        name: (alternative.id, option)
        for alternative in plan.alternatives
        for option, names in alternative.options.items() if option != alternative.default
        for name in names
    }
    default = {name for a in plan.alternatives for name in a.options[a.default]}
    return {name: option for name, option in found.items() if name not in default}


def _limit(plan: Plan) -> Iterator[Finding]:
    sortie = plan.sortie
    if sortie.reserve >= sortie.limit:
        yield _finding(
            "reserve-above-limit", ("sortie", "reserve"), "table [sortie], key 'reserve'",
            f"less than the limit ({_minutes_text(sortie.limit)})", _minutes_text(sortie.reserve),
            "Give a smaller reserve or a later limit.",
        )
        return
    optional, crew = _non_default(plan), set(plan.crew_lane_ids())
    outside = [p for p in _placed_tasks(plan) if _is_briefed(p) and crew & set(p.task.lanes)]
    for in_default in (True, False):
        group = [p for p in outside if (p.task.id not in optional) == in_default]
        if not group:
            continue
        last = max(group, key=lambda p: _end(p.task))
        end, usable = _end(last.task), sortie.limit_less_reserve_pet_min
        if end <= usable + 1e-9:
            continue
        past_limit = end > sortie.limit + 1e-9
        severity = "error" if past_limit and in_default else "caution"
        bound, words = (sortie.limit, "limit") if past_limit else (usable, "limit less reserve")
        ending = "" if in_default else " with option '{1}' of alternative {0}".format(*optional[last.task.id])
        yield _finding(
            "past-limit" if past_limit else "into-reserve", last.key("start"), f"{last.name}, the last in the crew lanes{ending}",
            f"an end by the {words} ({_pet_text(bound)})", f"an end at {_pet_text(end)}, {_minutes_text(end - bound)} past it",
            "Take work out, start earlier, or correct 'limit' and 'reserve' in [sortie].",
            severity, can_be_followed=True,  # during such a sortie the advice is needed
            consequence="" if in_default else "With this option work must be given up.",
        )


def _worksites_and_routes(plan: Plan) -> Iterator[Finding]:
    for at, site in enumerate(plan.worksites):
        if site.leave_by is not None and site.leave_by + site.return_min > plan.sortie.limit_less_reserve_pet_min + 1e-9:
            yield _finding(
                "leave-by-too-late", ("worksite", at, "leave_by"), f"worksite {site.id}, key 'leave_by'",
                f"a time from which the way back ({_minutes_text(site.return_min)}) ends by the limit less reserve "
                f"({_pet_text(plan.sortie.limit_less_reserve_pet_min)})",
                _pet_text(site.leave_by), "Give an earlier time, or leave the key out: the way back then sets the time.",
                "caution",
            )
    first: dict[frozenset[str], int] = {}
    for at, route in enumerate(plan.routes):
        ends = frozenset((route.from_, route.to))
        if ends in first:
            yield _finding(
                "route-twice", ("route", at), f"route {at + 1}", "one route between two worksites, which holds either way",
                f"a second one between '{route.from_}' and '{route.to}' (first as route {first[ends] + 1})",
                "Take one of the two out.",
            )
        first.setdefault(ends, at)
    together = defaultdict(list)
    for placed in _placed_tasks(plan):
        if placed.task.together is not None:
            together[placed.task.together].append(placed)
    for word, members in together.items():
        if len(members) == 1:
            only = members[0]
            yield _finding(
                "together-alone", only.key("together"),
                f"{only.name}, key 'together'", f"another task with the word '{word}'", "none",
                "Give the word to the tasks that are done all or not at all, or take it out.", "caution",
            )


# --- what a task says about itself ----------------------------------------------------------------


def _odd_tasks(plan: Plan) -> Iterator[Finding]:
    optional = _non_default(plan)
    for placed in _placed_tasks(plan):
        task = placed.task
        if task.duration.high > LONG_TASK_MIN:
            yield _finding(
                "very-long", placed.key("duration"),
                f"{placed.name}, key 'duration'", f"at most {_minutes_text(LONG_TASK_MIN)}",
                f"up to {_minutes_text(task.duration.high)}", "Check the unit: a plain number is minutes.", "caution",
            )
        if task.required and task.shortest is not None:
            yield _finding(
                "required-trimmed", placed.key("shortest"),
                f"{placed.name}, key 'shortest'", "no 'shortest' for a required task",
                _minutes_text(task.shortest), "Take it out: a required task is never trimmed.", "caution",
            )
        if task.required and task.id in optional:
            alternative, option = optional[task.id]
            yield _finding(
                "required-option", placed.key("required"),
                f"{placed.name}, key 'required'", "required tasks in the plan whatever happens",
                f"a required task of option '{option}' of alternative {alternative}, which is not the default",
                "Take 'required' out, or make that option the default.", "caution",
            )
        if task.leg is not None and task.boxed:
            yield _finding(
                "boxed-leg", placed.key("boxed"), f"{placed.name}, key 'boxed'", "either 'boxed' or 'leg'", "both",
                "Take one of them out: a leg takes as long as the way, a boxed stop as long as the room sets.",
            )
        if task.required and task.get_ahead:
            yield _finding(
                "required-get-ahead", placed.key("required"),
                f"{placed.name}, key 'required'", "either 'required' or 'get_ahead'", "both",
                "Take one of them out.", "caution",
            )


CHECKS: tuple[Callable[[Plan], Iterator[Finding]], ...] = (
    _duplicate_names, _unknown_names, _cycles, _lanes_and_suits, _starts, _overlaps, _order,
    _not_before_and_windows, _limit, _worksites_and_routes, _odd_tasks,
)
