"""Names shared by the page, the browser's modules and the tests: one enum of ids per region, and `Act` for the buttons.

The names are written only here. The page holds them as data (`table`), from which `assets/board/ids.js` reads them.
"""

from __future__ import annotations

from enum import StrEnum


class Page(StrEnum):
    """The page itself."""

    SENT = "board-sent"  # the data that the browser's modules read
    BASIS = "basis"  # how a figure was computed; the browser makes this element


class Help(StrEnum):
    """The map of keys and signs, and what each browser chooses for itself."""

    DIALOG = "help"
    OPEN = "help-open"
    SIGNS = "basis-signs"  # says what the signs of the lane sheet mean, and opens the map
    CLOSE = "help-close"
    THEME = "help-theme"
    SOUND = "help-sound"
    NOTIFY = "help-notify"
    SINGLE_KEYS = "help-single-keys"
    SAID = "help-said"
    HINT = "key-hint"  # what the next key does, once the number of a lane was pressed


class Find(StrEnum):
    """The search for a task."""

    FORM = "find"
    OPEN = "find-open"
    FIELD = "find-field"
    FOUND = "find-found"
    GO = "find-go"
    CANCEL = "find-cancel"


class First(StrEnum):
    """What an empty board offers first."""

    REGION = "first"
    ZERO = "first-zero"
    ZERO_AT = "first-zero-at"


class Tour(StrEnum):
    """The guided tour of the demo."""

    BOX = "tour"
    TITLE = "tour-title"
    WORDS = "tour-words"
    COUNT = "tour-count"
    NEXT = "tour-next"
    CLOSE = "tour-close"


class Aloud(StrEnum):
    """What is read to people who do not see the page."""

    NEWS = "told-news"
    CALL = "told-call"


class Sheet(StrEnum):
    """The lane sheet and its rail."""

    REGION = "sheet"
    GRAPH = "sheet-graph"
    BACK = "sheet-back-to-now"
    EARLIER = "sheet-earlier"
    LATER = "sheet-later"
    CLOSER = "sheet-closer"
    WIDER = "sheet-wider"
    RAIL = "sheet-rail"
    OUT = "sheet-out"  # line with the tasks that the sortie does not do


class Band(StrEnum):
    """The band across the top. The browser counts its clocks."""

    REGION = "band"
    WORD = "band-word"
    RUN = "band-run"
    TITLE = "band-title"
    WHO = "band-who"  # who is signed in; leads to where one signs in and out
    PET = "band-pet"
    UTC = "band-utc"
    EVENT_AGE = "band-event-age"
    READING_AGE = "band-reading-age"
    CONTACT = "contact"  # bar across the page while the server does not answer
    TROUBLE = "trouble"  # bar across the page while no state can be computed, or the key file cannot be read


class Headline(StrEnum):
    """The four headline figures."""

    REGION = "headline"
    END = "headline-end"
    LANES = "headline-lanes"
    SUIT = "headline-suit"
    DECISION = "headline-decision"


class Replay(StrEnum):
    """The replay controls."""

    REGION = "replay"
    REHEARSAL = "replay-rehearsal"
    PLAY = "replay-play"
    PREVIOUS = "replay-previous"
    NEXT = "replay-next"
    DECISION_BEFORE = "replay-decision-previous"
    DECISION_NEXT = "replay-decision-next"
    WORST = "replay-worst"
    SPEED = "replay-speed"
    PLACE = "replay-place"
    MARKS = "replay-marks"
    AT = "replay-at"
    COUNTS = "replay-counts"  # the time from which an event counts, in words
    COPY = "replay-copy"
    DIALOG = "replay-address"
    DIALOG_TITLE = "replay-address-title"
    DIALOG_WORDS = "replay-address-words"
    DIALOG_FIELD = "replay-address-place"
    DIALOG_CLOSE = "replay-address-cancel"
    ADDRESS = "replay-address-field"


class Suits(StrEnum):
    """The suits."""

    REGION = "suits"
    BODY = "suits-body"


class Choices(StrEnum):
    """The choices."""

    REGION = "choices"
    HEAD = "choices-head"
    BODY = "choices-body"
    PLAN = "choices-plan"  # opens the entry form with the events that change the plan
    TO_WHAT_IF = "choices-what-if"
    WHAT_IF = "what-if"
    WHAT_IF_TASKS = "what-if-tasks"
    WHAT_IF_FIGURES = "what-if-figures"
    WHAT_IF_CLEAR = "what-if-clear"


class Log(StrEnum):
    """The log, its filter and the entry forms."""

    REGION = "log"
    ROWS = "log-rows"
    FILTER = "log-filter"
    NOTE = "log-note"
    ADD_NOTE = "log-add-note"
    ENTER = "log-enter"
    OUTCOME = "log-outcome"
    OFFER = "log-offer"  # the button that withdraws what was just entered
    REFUSED = "log-refused"  # events that the server refused, kept by this browser
    FORM = "entry-form"
    KIND = "entry-kind"
    FIELDS = "entry-fields"
    AT = "entry-at"
    SEND = "entry-send"
    CANCEL = "entry-cancel"
    AMEND = "amend-form"
    AMEND_EVENT = "amend-event"
    AMEND_AT = "amend-at"
    AMEND_TEXT = "amend-text"
    AMEND_NOTE = "amend-note"
    AMEND_SEND = "amend-send"
    AMEND_WITHDRAW = "amend-withdraw"
    AMEND_CANCEL = "amend-cancel"


class Why(StrEnum):
    """The dialog of reasons."""

    DIALOG = "why"
    TITLE = "why-title"
    BODY = "why-body"
    OPEN = "why-open"
    RENEW = "why-renew"
    CLOSE = "why-close"


class Problems(StrEnum):
    """Alerts, discrepancies and unread lines."""

    REGION = "problems"
    HEAD = "problems-head"
    FEEDS = "problems-feeds"  # feeds that are stale or lost; written several times a second
    BODY = "problems-body"


class Hold(StrEnum):
    """The question for the reason of a hold."""

    FORM = "hold-form"
    REASON = "hold-reason"
    YES = "hold-yes"
    NO = "hold-no"


class Late(StrEnum):
    """The question for a time that the list of a card does not have."""

    FORM = "late-form"
    AT = "late-at"
    YES = "late-yes"
    NO = "late-no"


class Ask(StrEnum):
    """The question before an entry that cannot be taken back."""

    FORM = "ask-form"
    WORDS = "ask-words"
    CAUTION = "ask-caution"
    BY = "ask-by"  # who decides; asked only for a decision
    YES = "ask-yes"
    NO = "ask-no"


class Tabs(StrEnum):
    """On a small screen log, choices, problems and suits share one place; these buttons choose which one is shown."""

    REGION = "tabs"
    CHOICES = "tab-choices"
    LOG = "tab-log"
    PROBLEMS = "tab-problems"
    SUITS = "tab-suits"


class Plan(StrEnum):
    """The plan page: the tasks as a sheet, its check, and saving."""

    GRID = "plan-grid"
    HEAD = "plan-head"
    STATUS = "plan-status"  # what is unsaved, or why nothing may be saved
    SUMMARY = "plan-summary"  # the end against the limit
    FINDINGS = "plan-findings"
    COUNTS = "plan-findings-counts"
    HELP = "plan-help"  # the meaning of the column of the cell that has the focus
    SAID = "plan-said"  # the outcome of an act
    INSERT = "plan-insert"
    DUPLICATE = "plan-duplicate"
    REMOVE = "plan-remove"
    UP = "plan-up"
    DOWN = "plan-down"
    SHIFT = "plan-shift"  # what follows begins later
    UNDO = "plan-undo"
    REDO = "plan-redo"
    NEXT = "plan-next-finding"
    SAVE = "plan-save"
    KEYS = "plan-keys"
    KEYS_DIALOG = "plan-keys-dialog"
    DIALOG = "plan-dialog"  # the difference before saving
    DIALOG_TITLE = "plan-dialog-title"
    DIALOG_BODY = "plan-dialog-body"
    DIALOG_YES = "plan-dialog-yes"
    DIALOG_OTHER = "plan-dialog-other"
    DIALOG_NO = "plan-dialog-no"
    WHOLE = "plan-whole"  # opens the text of the whole file
    WHOLE_DIALOG = "plan-whole-dialog"
    WHOLE_TEXT = "plan-whole-text"
    WHOLE_SAID = "plan-whole-said"
    WHOLE_FINDINGS = "plan-whole-findings"
    WHOLE_SAVE = "plan-whole-save"


class LanePart(StrEnum):
    """The parts of a lane's card. Its buttons are named like their acts, see `Act`."""

    CARD = "card"
    BODY = "body"
    AGO = "ago"  # choice of how long ago the event happened
    UNDO = "undo"
    OUTCOME = "outcome"


class Act(StrEnum):
    """The action of a button, in its `data-act`. For buttons that occur more than once."""

    CLOSE = "close"  # closes the dialog that holds the button
    START = "start"
    DONE = "done"
    DONE_NEXT = "done-next"  # done, and start the next task
    HOLD = "hold"
    UNDO = "undo"
    DECIDE = "decide"
    GET_AHEAD = "get-ahead"
    CORRECT = "correct"
    TAKE_BACK = "take-back"  # a withdrawal
    TAKE_BACK_DECISION = "take-back-decision"
    SEND_AGAIN = "send-again"  # an event that the server refused
    DISCARD = "discard"
    WITHDRAW = "withdraw"  # what was just entered


def lane_part(lane: str, part: str) -> str:
    """Id of a part of a lane's card.

    Parameters
    ----------
    lane
        Id of the lane.
    part
        A `LanePart`, or the act of a button.

    Returns
    -------
    str
    """
    return f"lane-{part}-{lane}"


def table() -> dict[str, dict[str, str]]:
    """Every enum of this module by its name; each as a mapping of member to value."""
    enums = [one for one in globals().values() if isinstance(one, type) and issubclass(one, StrEnum) and one is not StrEnum]
    return {one.__name__: {member.name: member.value for member in one} for one in enums}
