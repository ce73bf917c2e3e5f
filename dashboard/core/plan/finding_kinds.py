"""Every kind of finding about a plan: its code, what it is in one sentence, and what follows if nothing is done.

This is the one table of them. `tetherline check` prints the findings, `--json` carries the codes, and a code can be looked up
here by whatever explains it. Findings about the files, fields and cross-checks of a plan come from `core/plan`; those that need
the forecast come from `core/outlook`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class FindingKind(NamedTuple):
    """One kind of finding.

    Parameters
    ----------
    what : str
        What is found, in one sentence.
    follows : str
        The consequence if nothing is done, in one sentence. A finding with figures of its own may say more.
    """

    what: str
    follows: str


STRUCTURE: Mapping[str, FindingKind] = {
    "file": FindingKind("The file cannot be read as a plan.", "There is no plan to follow."),
    "unknown-key": FindingKind("A table has a key that no plan has.", "What was meant by it does not count."),
    "missing-value": FindingKind("A table or a key that every plan needs is absent.", "The plan cannot be followed."),
    "wrong-value": FindingKind("A value cannot be used for its key.", "The plan cannot be followed."),
    "name-twice": FindingKind("Two tables of one kind have the same name.", "An event that names it would mean either."),
    "name-unknown": FindingKind("A key names something that the plan does not have.", "The plan cannot be followed."),
    "order-in-a-circle": FindingKind(
        "Tasks wait for each other in a circle, by 'after' or 'follows'.", "None of these tasks could ever begin."
    ),
    "no-crew": FindingKind("No lane is a crew member.", "The plan has no end to compare with its limit."),
    "suit-without-crew": FindingKind("A lane that is not of the crew wears a suit.", "The plan cannot be followed."),
    "no-suit": FindingKind("A crew lane wears no suit of the plan.", "No consumable of this crew member is watched."),
    "suit-worn-twice": FindingKind("Two crew lanes wear the same suit.", "Their use would be counted in one suit."),
    "suit-not-worn": FindingKind("Nobody wears a suit of the plan.", "It sets no limit, whatever is left in it."),
    "suit-without-consumables": FindingKind("A suit has no consumable.", "This suit sets no limit."),
    "overlap": FindingKind("Two briefed tasks of one lane overlap.", "The second one cannot begin when it is briefed to."),
    "start-against-link": FindingKind(
        "A task is briefed to begin before the task that it comes after ('after' or 'follows') is over.",
        "It begins later than briefed, and so does what follows it.",
    ),
    "before-not-before": FindingKind(
        "A task is briefed to begin before its own 'not_before'.", "It begins later than briefed."
    ),
    "outside-window": FindingKind(
        "A task is briefed at a time outside the windows that it needs.", "It waits for the next window, or is done without one."
    ),
    "start-in-contingency": FindingKind("A task of a contingency has a briefed start.", "The plan cannot be followed."),
    "get-ahead-with-start": FindingKind(
        "A get-ahead has a briefed start.", "The start does not count: a get-ahead begins when there is time in hand."
    ),
    "no-start": FindingKind("A briefed task has no start.", "Its place in the lane is not known."),
    "reserve-above-limit": FindingKind("The reserve is as long as the limit or longer.", "No time is left for the sortie."),
    "past-limit": FindingKind("The brief ends past the limit of the sortie.", "Work must be given up, from the first minute on."),
    "into-reserve": FindingKind("The brief ends within the reserve.", "The reserve is used before anything has gone wrong."),
    "leave-by-too-late": FindingKind(
        "The leave-by time of a worksite leaves no time for the way back.", "Who leaves at that time is in after the limit."
    ),
    "route-twice": FindingKind("Two routes join the same two worksites.", "It is not known which of them counts."),
    "together-alone": FindingKind("Only one task has a 'together' word.", "The word has no effect."),
    "very-long": FindingKind("A task may take longer than any sortie.", "A wrong unit would make every figure wrong."),
    "required-trimmed": FindingKind("A required task may be trimmed.", "Its 'shortest' has no effect."),
    "required-option": FindingKind(
        "A required task belongs to an option that is not the default.", "It is not in the plan unless that option is taken."
    ),
    "boxed-leg": FindingKind("A task is both a leg and a boxed stop.", "It is not known what sets its length."),
    "required-get-ahead": FindingKind("A get-ahead is required.", "It is not in the plan unless somebody begins it."),
}
"""What the fields and the cross-checks find."""

FORECAST: Mapping[str, FindingKind] = {
    "chance": FindingKind(
        "As briefed, being in by the limit with every suit above its reserve is less likely than the plan wants.",
        "The room will have to give work up.",
    ),
    "suit-short": FindingKind(
        "A consumable of a suit falls to its reserve before the expected end (P50), at the briefed workload.",
        "This crew member, and so the pair, must be in before the work is done.",
    ),
    "suit-tight": FindingKind(
        "A consumable of a suit lasts to the expected end, but not to a late end (P90), at the briefed workload.",
        "A late sortie is cut short by this suit.",
    ),
    "suit-assumed": FindingKind(
        "The plan gives no rate of use for a consumable that has no published one either.",
        "This consumable sets no limit until a reading shows its use.",
    ),
    "workload-assumed": FindingKind(
        "Tasks of a suited crew member have no workload.", "The suit budget takes them as moderate work."
    ),
    "no-reserve": FindingKind(
        "The plan keeps no reserve of time.", "The crew may be projected in at the very limit, and nothing is said."
    ),
    "out-of-plan": FindingKind(
        "A briefed task is not in the plan of record at PET zero: it comes after a get-ahead, or nothing takes its lanes to it.",
        "No figure counts it: not the end, not the chance, not the suits.",
    ),
    "ways-not-given": FindingKind(
        "The plan has several worksites and no leg between them.",
        "The ways are taken to lie within the tasks, and whether there is time for them cannot be checked.",
    ),
    "no-way": FindingKind(
        "Neither a leg nor a route takes a lane to the worksite of its next task.", "The time for this way is in no figure."
    ),
    "way-too-short": FindingKind(
        "The brief leaves less time between two worksites than the route takes.", "The work at the second one begins later."
    ),
    "leg-too-short": FindingKind("A leg is briefed shorter than its route.", "What comes after it begins later than briefed."),
    "long-wait": FindingKind(
        "A crew member waits long before a joint task.", "Time and consumables go by with nothing done."
    ),
    "window-none": FindingKind(
        "At plan pace no window is left that holds a task.", "It is projected as if it needed none; the room must decide."
    ),
    "window-likely-missed": FindingKind(
        "A task more likely than not misses the window that it is briefed in.", "It waits for the next one, if there is one."
    ),
    "window-may-be-missed": FindingKind(
        "A task misses the window that it is briefed in often enough to be prepared for it.",
        "It then waits for the next one, if there is one.",
    ),
    "leave-by": FindingKind(
        "Work at a worksite is projected to end after the time to have left it.", "The work must be cut short."
    ),
    "turn-back": FindingKind(
        "At some hour before the way home it would be too late to turn back.",
        "From then on a crew that must go in is late, or below a reserve, when it arrives.",
    ),
    "no-way-home": FindingKind("A crew lane has no way home that is required.", "Advice may give up its last tasks."),
    "class-locked": FindingKind(
        "Nothing of the plan, or of a priority class, can be given up without something of a higher class.",
        "A cut falls on a higher class at once.",
    ),
    "class-too-early": FindingKind(
        "All of a priority class that can be given up begins before the room knows better than the brief.",
        "When the need for a cut is seen, only work of other classes is left.",
    ),
    "close-out-too-long": FindingKind(
        "Leaving a task safe takes as long as the task.", "Breaking it off gains nothing."
    ),
    "cannot-be-stopped": FindingKind(
        "Long tasks can be neither broken off nor trimmed.", "Once such a task is begun, the crew is bound until it is done."
    ),
    "contingency-never-fits": FindingKind(
        "At no hour of the sortie would a contingency fit, whatever is given up.",
        "If it comes, the crew is in after the limit or below a reserve.",
    ),
    "contingency-needs-a-cut": FindingKind(
        "At no hour of the sortie does a contingency fit unless something is given up.", "If it comes, work must go."
    ),
    "ending-changes": FindingKind(
        "The option taken of an open alternative changes the end or the chance by much.",
        "The answer of this check holds for the default only.",
    ),
    "check-in-joint-task": FindingKind(
        "A recurring check falls due inside a joint task.", "It is made late, or interrupts the work of both."
    ),
    "longer-in-runs": FindingKind(
        "Recorded runs say that a task takes much longer than briefed.", "The sortie falls behind at this task."
    ),
    "shorter-in-runs": FindingKind(
        "Recorded runs say that a task takes much less time than briefed.", "Time is kept for it that other work could use."
    ),
    "no-ranges": FindingKind(
        "Most lengths are briefed as a single value.", "The spread of the end then rests on an assumption."
    ),
}
"""What the forecast of the brief at PET zero finds."""

FINDING_KINDS: Mapping[str, FindingKind] = {**STRUCTURE, **FORECAST}
