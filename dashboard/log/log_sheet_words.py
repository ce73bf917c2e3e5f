"""Finds what the words of a log sheet's row mean for a plan.

1. A row is an event when its words are a verb of a kind (`Event.spoken`), before or after what it is about, and nothing else.
2. Tasks, contingencies, alternatives and lanes go by their name or exact title. Capitals, spaces and punctuation do not count.
3. When two interpretations of a row both fit, neither is used. A question is not an event.
4. `decided: ...` in words that name no change of the plan is a decision in those words. A suit with its remaining oxygen, co2,
   battery or water, in units of the plan, is a reading: `suit A oxygen 0.3 kg`.
5. What follows the event behind a comma, a dash or the like is its remark: `T010 done, all good`. It becomes the note of the
   event where it is nothing but a remark: no other name, no verb of an event, no word of doubt (`_DOUBT`).
6. A row that has such a verb, names a task, contingency or lane, or mentions a decision, a reading or PET zero in other words, is
   kept as a note with the reason. So is a row with a name that looks like one of the plan, but is none. The words of the column
   `text` are the note of what the row says.
7. `T020 in work` is no start: it says that the work began by then, not when. A start at that time would make the task look
   shorter than it was in every figure that learns from the run.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from dashboard.core.base.times import parse_minutes
from dashboard.core.base.wording import listed
from dashboard.core.events.entry import About, Spoken
from dashboard.core.events.kinds import KINDS
from dashboard.core.plan.model import CONSUMABLE_UNITS, CONSUMABLES, Plan

EVERYTHING = ("all", "all lanes", "everything")
MOST_OFFERED = 3
SHORT = 2  # letters of a name that may also be a word, such as A
ALIKE = 0.75

_SPOKEN: Mapping[str, Spoken] = {kind: event.spoken for kind, event in KINDS.items() if event.spoken is not None}
_ALONE = {phrase: kind for kind, event in KINDS.items() for phrase in event.spoken_alone}
_VERB = {word: kind for kind, spoken in _SPOKEN.items() for word in spoken.verbs}
_ANY_VERB = "|".join(word.replace(" ", r"[\s_-]+") for word in sorted(_VERB, key=len, reverse=True))
_PATTERNS = (
    re.compile(rf"^(?P<verb>{_ANY_VERB})\b[\s:,;.-]*(?P<rest>.*)$", re.IGNORECASE | re.DOTALL),
    re.compile(rf"^(?P<rest>.*?)[\s:,;.-]+(?P<verb>{_ANY_VERB})[\s.!]*$", re.IGNORECASE | re.DOTALL),
)
_TO = re.compile(r"^(?P<head>.*\S)\s+to\s+(?P<to>\S.*?)[\s.!]*$", re.IGNORECASE | re.DOTALL)
_DECIDED = re.compile(r"^(?:decision|decided)\b[\s:,-]*(?:to\s+)?", re.IGNORECASE)
_CONSUMABLE = "|".join(CONSUMABLES)
_UNITS = {(name, unit.casefold()) for name, unit in CONSUMABLE_UNITS.items()}
_AMOUNT = re.compile(
    rf"\b(?P<name>{_CONSUMABLE})[\s:=]+(?P<left>\d+(?:\.\d+)?)(?:\s*(?P<unit>kg|wh))?(?=[\s,;]|$)", re.IGNORECASE
)
_READ = re.compile(
    r"^(?:readings?[\s:,-]+)?(?:suit\s+)?(?P<suit>[\w-]+?)(?:\s+readings?)?[\s:,-]+"
    rf"(?P<amounts>(?:{_CONSUMABLE})\b.*?)[\s.!]*$",
    re.IGNORECASE | re.DOTALL,
)
_OF_A_SUIT = re.compile(rf"\b(?:{_CONSUMABLE})\b[\s:=]*(?:is|at|left)?[\s:=]*\d", re.IGNORECASE)
_LIST = re.compile(r"\s*(?:[,;&+]|\band\b)\s*", re.IGNORECASE)
_LENGTH = re.compile(r"^(\d+(?:\.\d+)?|\d{1,2}:[0-5]\d)\s*(?:min|mins|minutes|m)?$", re.IGNORECASE)
_OF_A_DECISION = re.compile(r"\b(?:decide[sd]?|decisions?)\b", re.IGNORECASE)
_SEPARATORS = re.compile(r"\s*[,;(]\s*|\.\s+|:\s+|\s+[-\u2013\u2014]+\s+|\n+")
_DOUBT = re.compile(
    r"\?|\b(?:not|\w+n't|never|almost|nearly|except|but|partly|partially|half|if|unless|until|maybe|perhaps|probably|later|again|"
    r"to be|tb[dc]|pending|wrong|correction|cancell?ed|aborted|failed|delay(?:ed)?|slipp?(?:ed)?|postponed?|waiting|when|"
    r"standby|stand by|ready|will|shall|should|would|could|might|may|instead|remain(?:s|ing)?|left to do)\b",
    re.IGNORECASE,
)
_GOES_ON = re.compile(
    r"\b(?:in (?:work|progress)|under ?way|on-?going|still (?:going|working)|going well|working on)\b", re.IGNORECASE
)
_VERBS_SAID = re.compile(rf"\b(?:{_ANY_VERB})\b", re.IGNORECASE)
_LIKE_A_NAME = re.compile(r"\b[A-Za-z]{1,4}-?\d+\w*\b")
_PET_ZERO = re.compile(r"\bpet\s+(?:zero|0+(?::00)*)(?![\d:])", re.IGNORECASE)
_CHANGE = re.compile(rf"\b(?:{'|'.join(one.change for one in _SPOKEN.values() if one.change)})\b", re.IGNORECASE)


class NotTaken(NamedTuple):
    """Words that make no event: the words, the reason, and names that come close."""

    words: str
    why: str
    near: tuple[str, ...]


class Meaning(NamedTuple):
    """The fields of the event that a row is, without id and time, and what of the row could not be used (None: nothing)."""

    fields: dict[str, Any]
    not_taken: NotTaken | None = None


class _Interpretation(NamedTuple):
    """One way to understand a row: what happened, to what, to which lane or length, and what is said beside it."""

    kind: str
    words: str
    to: str
    said: str
    asked: bool

    @property
    def about(self) -> About:
        """What its kind is about."""
        return _SPOKEN[self.kind].about


class Phrases:
    """Finds the meaning of rows for a plan.

    Parameters
    ----------
    plan
        Its names and titles are the ones that are known.
    matches
        For words of the sheet, the task or contingency that they mean.
    """

    def __init__(self, plan: Plan, matches: Mapping[str, str]) -> None:
        tasks = plan.all_tasks()
        self.tasks = _Names({name: task.title for name, task in tasks.items()}, matches)
        self.contingencies = _Names({one.id: one.title for one in plan.contingencies}, matches)
        self.suits = _Names(dict.fromkeys((suit.id for suit in plan.suits), ""), {})
        self.carried = {suit.id: set(suit.consumables()) for suit in plan.suits}
        self.lanes = _Names(dict.fromkeys(plan.lane_ids(), ""), {})
        self.options = {(one.id, option): one.title for one in plan.alternatives for option in one.options}
        known = (*tasks, *(one.id for one in plan.contingencies), *plan.lane_ids())
        self.known = {name.casefold() for name in known}
        self.letters = {letters for name in known if (letters := _letters(name))}

    def meaning(self, what: str, text: str) -> Meaning:
        """Find the event that a row is.

        Parameters
        ----------
        what
            Words of the column `what`.
        text
            Words of the column `text`; empty when there are none.

        Returns
        -------
        Meaning
            A note with the words of the row when it is no other event.
        """
        alone = self._alone(what, text)
        if alone is not None:
            return alone
        readings = list(dict.fromkeys(_interpretations(_DECIDED.sub("", what), text)))
        taken = self._taken([one for one in readings if one.said]) or self._taken([one for one in readings if not one.said])
        taken = taken or self._with_remark(what, text)
        if len(taken) == 1 and not taken[0][0].asked:
            one, found = taken[0]
            key = KINDS[one.kind].own_words or "note"
            return Meaning({"kind": one.kind, **found, **({key: one.said} if one.said else {})})
        note = {"kind": "note", "text": what or text or "(empty)", **({"note": text} if what and text else {})}
        whole = f"{what} {text}".strip()
        if taken:
            return Meaning(note, NotTaken(whole, MANY if len(taken) > 1 else ASKED, ()))
        if readings:
            return Meaning(note, self._unknown(readings))
        decided = _DECIDED.sub("", what)
        is_decided = decided != what
        no_words = is_decided and not decided and not text
        if _CHANGE.search(whole) or no_words or (not is_decided and _OF_A_DECISION.search(whole)):
            return Meaning(note, NotTaken(whole, UNCLEAR, ()))
        if is_decided:
            if "?" in whole:
                return Meaning(note, NotTaken(whole, ASKED, ()))
            return Meaning({"kind": "decision", "text": decided or text, **({"note": text} if decided and text else {})})
        return self._read(whole) or Meaning(note, self._mentioned(what, text, whole))

    def _mentioned(self, what: str, text: str, whole: str) -> NotTaken | None:
        """Why a person should look at a row that is a note: what it mentions. None: no reason."""
        if _OF_A_SUIT.search(whole):
            return NotTaken(whole, NO_READING, ())
        if _PET_ZERO.search(whole):
            return NotTaken(whole, NO_PET_ZERO, ())
        named = [name for names in (self.tasks, self.contingencies, self.lanes) for name in names.mentioned(f"{what} . {text}")]
        if named:
            why = ASKS if "?" in whole else GOES_ON if _GOES_ON.search(whole) and not _DOUBT.search(whole) else NO_EVENT
            return NotTaken(whole, f"names {listed(named)}, but {why}", ())
        for head, _ in _split(what):
            if readings := list(_interpretations(head, "")):
                return self._unknown(readings)
        unknown = list(dict.fromkeys(name for name in _LIKE_A_NAME.findall(whole) if self._is_unknown(name)))
        near = tuple(dict.fromkeys(one for name in unknown for one in self.tasks.near(name)))
        return NotTaken(whole, f"names {listed(unknown)}, which the plan does not have", near) if unknown else None

    def _is_unknown(self, name: str) -> bool:
        """Whether a word has the form of a name of the plan, but is none."""
        return name.casefold() not in self.known and _letters(name) in self.letters

    def _alone(self, what: str, text: str) -> Meaning | None:
        """The event that a whole phrase means by itself, such as `PET zero`, with a remark behind it or in `text`."""
        for head, remark in ((what, ""), *_split(what)):
            if words_only(head) in _ALONE and self._is_remark(remark):
                said = "; ".join(part for part in (remark, text) if part)
                return Meaning({"kind": _ALONE[words_only(head)], **({"note": said} if said else {})})
        return None

    def _with_remark(self, what: str, text: str) -> list[tuple[_Interpretation, dict[str, Any]]]:
        """The interpretation of the words before a remark, where what follows is nothing but a remark."""
        whole = f"{what} {text}".strip()
        for phrase, beside in dict.fromkeys(((what, text), (whole, ""))):
            for head, remark in _split(_DECIDED.sub("", phrase)):
                readings = dict.fromkeys(one for one in _interpretations(head, "") if not one.asked)
                taken = self._taken(readings)
                if len(taken) == 1 and self._is_remark(remark):
                    one, found = taken[0]
                    return [(one._replace(said="; ".join(part for part in (remark, beside) if part)), found)]
        return []

    def _is_remark(self, words: str) -> bool:
        """Whether words say nothing of an event: no task or contingency, nothing like a name, no verb of an event, no doubt."""
        if _DOUBT.search(words) or _VERBS_SAID.search(words):
            return False
        if self.tasks.mentioned(words) or self.contingencies.mentioned(words):
            return False
        return all(self.lanes.one(found[0]) is not None for found in _LIKE_A_NAME.finditer(words))

    def _read(self, whole: str) -> Meaning | None:
        """What a suit has left, when every word of the row belongs to that; None when the row is not a plain reading."""
        row = _READ.match(whole)
        suit = self.suits.one(row["suit"]) if row else None
        if row is None or suit is None or _LIST.sub(" ", _AMOUNT.sub("", row["amounts"])).strip():
            return None
        amounts = list(_AMOUNT.finditer(row["amounts"]))
        left = {one["name"].casefold(): float(one["left"]) for one in amounts}
        units = {(one["name"].casefold(), one["unit"].casefold()) for one in amounts if one["unit"]}
        sure = len(left) == len(amounts) and left.keys() <= self.carried[suit] and units <= _UNITS
        return Meaning({"kind": "reading", "suit": suit, **left}) if sure else None

    def _taken(self, readings: Iterable[_Interpretation]) -> list[tuple[_Interpretation, dict[str, Any]]]:
        """The interpretations whose names are all in the plan, with the fields that they give."""
        return [(one, found) for one in readings if (found := _OBJECT[one.about](self, one)) is not None]

    def _unknown(self, readings: Iterable[_Interpretation]) -> NotTaken:
        """What the plan does not have, for the interpretation that says most."""
        own = [reading for reading in readings if reading.said and reading.words] or list(readings)
        one = max(own, key=lambda reading: (bool(reading.to), bool(reading.words)))
        why = _WANTED.get(one.about, NO_TASK)
        if one.about in _WITH_TO and self.tasks.one(one.words) is None:
            why = NO_TASK
        names = self.contingencies if one.about == "contingency" else self.tasks
        return NotTaken(one.words or NOTHING, why, names.near(one.words))

    # -- what a row may be about ----------------------------------------------------------------------------------

    def _task(self, one: _Interpretation) -> dict[str, Any] | None:
        task = self.tasks.one(one.words)
        return None if task is None else {"task": task}

    def _tasks(self, one: _Interpretation) -> dict[str, Any] | None:
        tasks = self.tasks.several(one.words)
        return {"tasks": tasks} if tasks else None

    def _scope(self, one: _Interpretation) -> dict[str, Any] | None:
        """A task, a lane or all; None when it could be two of them."""
        task, lane = self.tasks.one(one.words), self.lanes.one(one.words)
        found: list[dict[str, Any]] = [{"task": task}] if task else []
        found += [{"lane": lane}] if lane else []
        found += [{"all": True}] if words_only(one.words) in EVERYTHING else []
        return found[0] if len(found) == 1 else None

    def _contingency(self, one: _Interpretation) -> dict[str, Any] | None:
        found = self.contingencies.one(one.words)
        return None if found is None else {"contingency": found}

    def _option(self, one: _Interpretation) -> dict[str, Any] | None:
        """An option alone, if only one alternative has it, or an option after the name or title of its alternative."""
        words = words_only(one.words)
        found = [
            (name, option) for (name, option), title in self.options.items()
            if words in (words_only(option), words_only(f"{name} {option}"), words_only(f"{title} {option}"))
        ]
        return {"alternative": found[0][0], "option": found[0][1]} if len(found) == 1 else None

    def _task_and_length(self, one: _Interpretation) -> dict[str, Any] | None:
        task, length = self.tasks.one(one.words), _LENGTH.match(one.to)
        return {"task": task, "duration": parse_minutes(length[1])} if task and length else None

    def _task_and_lane(self, one: _Interpretation) -> dict[str, Any] | None:
        task, lane = self.tasks.one(one.words), self.lanes.one(one.to)
        return {"task": task, "lane": lane} if task and lane else None


_OBJECT: Mapping[About, Callable[[Phrases, _Interpretation], dict[str, Any] | None]] = {
    "task": Phrases._task,
    "tasks": Phrases._tasks,
    "scope": Phrases._scope,
    "contingency": Phrases._contingency,
    "option": Phrases._option,
    "task and length": Phrases._task_and_length,
    "task and lane": Phrases._task_and_lane,
}
_WITH_TO: tuple[About, ...] = ("task and length", "task and lane")  # "... to 20 min", "... to EV2"
NOTHING = "nothing named"
MANY = "may mean more than one thing"
ASKED = "a question"
NO_READING = "mentions what a suit has left, but is not a plain reading such as 'suit A oxygen 0.3 kg'"
NO_PET_ZERO = "mentions PET zero, but is not plainly the event; say 'PET 0' alone in its row, or give --pet-zero"
ASKS = "is a question"
GOES_ON = "says only that work goes on, not when it began; where no row has the start, add one"
NO_EVENT = "says no event of it in words that are understood"
UNCLEAR = "mentions a decision or a hold, in words that are not understood"
NO_TASK = "no task of the plan has that name or title"
_WANTED: Mapping[About, str] = {
    "scope": "no task or lane of the plan has that name or title",
    "contingency": "no contingency of the plan has that name or title",
    "option": "not exactly one alternative has an option of that name",
    "task and length": "no new length is given, such as 'to 20 min'",
    "task and lane": "no lane of the plan is given to hand it to, such as 'to EV2'",
}


class _Names:
    """Things of one sort by name and title."""

    def __init__(self, titles: Mapping[str, str], matches: Mapping[str, str]) -> None:
        self.titles = {name: words_only(title) for name, title in titles.items()}
        self.names = {words_only(name): name for name in titles}
        self.matches = {words_only(words): name for words, name in matches.items() if name in titles}
        self.titled: dict[str, list[str]] = {}
        for name, title in self.titles.items():
            if title:
                self.titled.setdefault(title, []).append(name)

    def one(self, words: str) -> str | None:
        """The one thing that these words name, when every word counts; None when they name none or more than one."""
        said = words_only(words)
        if said in self.matches:
            return self.matches[said]
        if said in self.names:
            return self.names[said]
        if said in self.titled:
            return self.titled[said][0] if len(self.titled[said]) == 1 else None
        named = {self.names[word] for word in said.split() if word in self.names}
        rest = " ".join(word for word in said.split() if word not in self.names)
        if len(named) == 1 and rest in ("", self.titles[next(iter(named))]):
            return named.pop()
        return None

    def several(self, words: str) -> list[str]:
        """The things that a list of words names; empty when one of them is not known."""
        whole = self.one(words)
        if whole is not None:
            return [whole]
        parts = [part for part in _LIST.split(words) if words_only(part)]
        if len(parts) == 1:
            parts = words_only(words).split()
        found = [self.one(part) for part in parts]
        return [name for name in found if name is not None] if None not in found else []

    def mentioned(self, words: str) -> list[str]:
        """The things whose name or title stands in the words. A name of one or two letters counts only in its own case."""
        said = f" {words_only(words)} "
        found = []
        for name, title in self.titles.items():
            plain = words_only(name)
            short = len(plain) <= SHORT and not re.search(r"\d", plain)
            named = re.search(rf"(?<!\w){re.escape(name)}(?!\w)", words) if short else f" {plain} " in said
            if plain and named or (len(title) > SHORT and f" {title} " in said):
                found.append(name)
        return found

    def near(self, words: str) -> tuple[str, ...]:
        """Names to offer: the one that is named, then those whose title contains the words, or that differ by a slip alone.

        A name that differs in its number is never offered: it is another task.
        """
        said = words_only(words)
        if not said:
            return ()
        if len(named := [name for name in self.mentioned(words) if said in (words_only(name), self.titles[name])]) == 1:
            return tuple(named)
        known = [*self.titled, *self.names]
        close = [one for one in known if re.search(rf"\b{re.escape(said)}\b", one)]
        close = close or [one for one in self.names if _number_alone(one) and _number_alone(one) == _number_alone(said)]
        close = close or difflib.get_close_matches(said, [one for one in known if not re.search(r"\d", one)], n=1, cutoff=ALIKE)
        names = dict.fromkeys(name for one in close for name in (self.titled.get(one) or [self.names[one]]))
        return tuple(names)[:MOST_OFFERED]


def _letters(name: str) -> str:
    """The letters before the number of a name such as ``T010``; empty for other names."""
    found = re.match(r"^([a-z]+)-?\d", name.casefold())
    return found[1] if found else ""


def _number_alone(name: str) -> tuple[str, int] | None:
    """The letters and the number of a name such as ``T010``, however it is written (``t-10``, ``TO10``); None for other names."""
    plain = re.sub(r"(?<=\d)o|o(?=\d)", "0", name.casefold().replace(" ", "").replace("-", ""))
    found = re.match(r"^([a-z]+)(\d+)$", plain)
    return (found[1], int(found[2])) if found else None


def _split(phrase: str) -> Iterator[tuple[str, str]]:
    """Every way to take the end of a phrase as a remark: what comes before, and the remark."""
    for found in _SEPARATORS.finditer(phrase):
        head, remark = phrase[: found.start()].strip(), phrase[found.end() :].strip(" .)")
        if head and remark:
            yield head, remark


def words_only(text: object) -> str:
    """Reduce a text to its words, for comparison.

    Parameters
    ----------
    text
        Any value; it is compared as text.

    Returns
    -------
    str
        Lower case, without punctuation, with single spaces.
    """
    return " ".join(re.sub(r"[^\w]+", " ", str(text).casefold().replace("_", " ")).split())


def _interpretations(what: str, text: str) -> Iterator[_Interpretation]:
    """Every way to understand a row: the words of `what` with `text` said beside them, and both as one phrase."""
    whole = f"{what} {text}".strip()
    for phrase, said in dict.fromkeys(((what, text), (whole, ""))):
        shorter = _TO.match(phrase)
        for part, to in ((phrase, ""), *(((shorter["head"], shorter["to"]),) if shorter else ())):
            for found in filter(None, (pattern.match(part.strip()) for pattern in _PATTERNS)):
                kind = _VERB[" ".join(re.split(r"[\s_-]+", found["verb"].casefold()))]
                if not to or _SPOKEN[kind].about in _WITH_TO:
                    yield _Interpretation(kind, found["rest"].strip(), to, said, "?" in phrase)
