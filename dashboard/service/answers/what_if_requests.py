"""What-if for a desk: the figures of any set of changes. Requests are computed one by one; a newer one replaces those waiting."""

from __future__ import annotations

import asyncio
from typing import Any

from pydantic import ValidationError

from dashboard.core.events.change import Change
from dashboard.core.events.kinds import complaint
from dashboard.core.state.model import SortieState
from dashboard.service.answers.asked import answer_of
from dashboard.service.answers.what_if_figures import problem_of, what_if_job
from dashboard.service.desk import Desk


class WhatIfs:
    """Answers what-if requests of one desk."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._newest = 0

    async def answer(self, body: Any, state: SortieState) -> tuple[int, dict[str, Any]]:
        """Answer a request.

        Parameters
        ----------
        body
            A change, not yet checked: a value decoded from JSON.
        state
            The state that the board shows.

        Returns
        -------
        tuple of int and dict
            HTTP status and content. 200: the figures of the change and of the tasks that go with it. 409: a newer request
            came while this one waited. 422: `problems` say what is wrong with the request.

        Raises
        ------
        InputError
            When the figures cannot be worked out in time (`answer_of`).
        """
        try:
            asked = Change.model_validate(body)
        except ValidationError as wrong:
            found = [(".".join(str(part) for part in e["loc"]), complaint(e)) for e in wrong.errors()]
            return 422, {"problems": [problem_of(f"'{key}'", "fields as /api/docs says", said) for key, said in found]}
        self._newest += 1
        mine = self._newest
        async with self._one_at_a_time:
            if mine != self._newest:
                return 409, {"problems": [problem_of("request", "the newest request", "a newer one came", "Ask again.")]}
            told: dict[str, Any] = await asyncio.to_thread(
                answer_of, self._desk, "what-if", what_if_job, state.now, asked, state
            )
            return 422 if "problems" in told else 200, told
