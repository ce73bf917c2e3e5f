"""The command `tetherline new`: starts a plan from a sheet, a carry-over, a recorded run, or a few questions, and checks it."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from dashboard.cli.checked_plan import check_file, finding_json, verdict
from dashboard.cli.options import Json, single_command
from dashboard.cli.printing import print_json, show
from dashboard.cli.sheet_report import Columns, LeaveOut, SheetName, report_of_sheet, sheet_json
from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem, did_you_mean
from dashboard.core.plan.model import Plan
from dashboard.log.limits import PLAN_FILE_MB
from dashboard.log.log_sheet_options import pairs_of
from dashboard.log.new_plan import (
    CREW,
    TASK_FORM,
    Answers,
    lanes_in_words,
    plan_of_answers,
    plan_of_sheet,
    problem_of,
    problem_of_answer,
    typed_task,
    with_answers,
)
from dashboard.log.plan_files import (
    CSV,
    TOML,
    XLSX,
    PlanRead,
    is_whole_workbook,
    read_plan_from,
    rest_beside,
    write_plan_to,
)
from dashboard.log.plan_sheet import HowToRead
from dashboard.log.planfile import WHAT
from dashboard.log.textfile import read_text, refusal, wrong_ending
from dashboard.words import how_many

app = single_command()


@app.command()
def new(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file to write (TOML).")],
    sheet_file: Annotated[
        Path | None, typer.Option("--from", metavar="SHEET", help="Start from the tasks of a sheet (CSV or XLSX).")
    ] = None,
    carry_over: Annotated[
        Path | None, typer.Option("--carry-over", metavar="RUN", help="Start from what a recorded run left to the next sortie.")
    ] = None,
    run: Annotated[
        Path | None, typer.Option("--run", metavar="RUN", help="Start from the plan of a recorded run, with what was added.")
    ] = None,
    rest: Annotated[
        Path | None, typer.Option("--with", metavar="PLAN", help="With --from: a plan file with the lanes, suits and so on.")
    ] = None,
    id_: Annotated[str, typer.Option("--id", help="Name of the sortie, without spaces.")] = "",
    title: Annotated[str, typer.Option(help="Title of the sortie.")] = "",
    start: Annotated[str, typer.Option(help="Planned PET zero in UTC, such as 2031-04-12T09:10:00Z.")] = "",
    limit: Annotated[str, typer.Option(help="Planned latest end, PET such as 7:00.")] = "",
    reserve: Annotated[str, typer.Option(help="Minutes of the limit that the plan must not use.")] = "",
    crew: Annotated[list[str] | None, typer.Option(help="Names of the crew lanes, such as EV1,EV2.")] = None,
    arm: Annotated[list[str] | None, typer.Option(help="Names of the arm lanes, such as ARM.")] = None,
    task: Annotated[list[str] | None, typer.Option(help=f"A task: {TASK_FORM}. May be given several times.")] = None,
    columns: Columns = None,
    leave_out: LeaveOut = None,
    sheet: SheetName = "",
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    as_json: Json = False,
) -> None:
    """Start a plan from a sheet, a carry-over, a recorded run or a few questions, and check it."""
    _check_names(plan, force, sheet_file, carry_over, run)
    answers = Answers(id_, title, start, limit, reserve, _names(" ".join(crew or ())), _names(" ".join(arm or ())))
    said: list[str] = []
    read: PlanRead | None = None
    text: str | None
    if carry_over is not None:
        made, text, said = _of_carry_over(carry_over)
    elif run is not None:
        made, text, said = _of_run(run)
    elif sheet_file is not None:
        how = HowToRead(pairs_of("--columns", columns or []), leave_out or (), sheet)
        read, said = _of_sheet(sheet_file, rest, answers, how, plan)
        made, text = read.plan, read.text
    else:
        tasks = [_typed(one, at) for at, one in enumerate(task or [], start=1)]
        answers, tasks = _asked(answers, tasks, plan)
        made, text = plan_of_answers(answers, tasks), None
        said = [f"Lanes: {lanes_in_words(made)}."]
    made = with_answers(made, answers)
    write_plan_to(plan, made, text)
    checked = check_file(plan)
    if as_json:
        findings = [finding_json(one) for one in checked.problems]
        told = None if read is None or read.sheet is None else sheet_json(read.sheet)
        answer = {"answer": verdict(checked), "findings": findings, "caution": CAUTION}
        print_json({"written": str(plan), "said": said, "sheet": told, **answer})
        return
    show(*report_of_sheet(read.sheet if read else None), *said, f"Written: {plan}.")
    for problem in checked.problems:
        print(f"{problem.severity}: {problem.text()}")
    show(verdict(checked), f"To go on in the browser: tetherline serve {plan}, page /plan.", CAUTION)


def _check_names(plan: Path, force: bool, *sources: Path | None) -> None:
    if sum(source is not None for source in sources) > 1:
        raise InputError([Problem("new", "one of --from, --carry-over and --run", "several", "Give one of them.")])
    if plan.suffix.lower() != TOML:
        raise wrong_ending(plan, (TOML,), "tetherline convert makes sheets of a plan.")
    if plan.exists() and not force:
        raise refusal(plan, "a file that is not there yet", "one that exists", "Give another name, or --force to replace it.")


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in re.split(r"[\s,]+", text) if name)


# --- where it starts from -------------------------------------------------------------------------


def _of_carry_over(path: Path) -> tuple[Plan, str, list[str]]:
    from dashboard.core.debrief.look_back import debrief
    from dashboard.reports.carry_over import carry_over_toml
    from replay.recording import load_run

    run = load_run(path)
    facts = debrief(run.plan, run.events, max(event.at for event in run.events), draws=0, rehearsal=run.rehearsal)
    left = carry_over_toml(facts, run.plan, _plan_text(path))
    if left is None:
        found = "one without an end, so that all may still be done" if facts.so_far else "one that left none"
        raise InputError([Problem("option --carry-over", "a run that left work to the next sortie", found,
                                  "Start from the run itself: --run.", str(path))])
    return _plan_in(left[0]), left[0], [f"{how_many(len(facts.carry_over), 'task')} carried over from {run.title}."]


def _of_run(path: Path) -> tuple[Plan, str, list[str]]:
    from replay.plan_of_run import plan_of_run
    from replay.recording import load_run

    run = load_run(path)
    made = plan_of_run(run)
    learn = "Durations are those of the brief; tetherline learn takes them from several runs."
    return made.plan, _plan_text(path), [f"The plan of {run.title}.", *made.changes, learn]


def _plan_text(run: Path) -> str:
    beside = (run if run.is_dir() else run.parent) / "plan.toml"
    return read_text(beside, WHAT, PLAN_FILE_MB)


def _plan_in(text: str) -> Plan:
    import tomllib

    return Plan.model_validate(tomllib.loads(text))


def _of_sheet(path: Path, rest: Path | None, answers: Answers, how: HowToRead, plan: Path) -> tuple[PlanRead, list[str]]:
    whole = path.suffix.lower() == XLSX and is_whole_workbook(path) or path.suffix.lower() == CSV and rest_beside(path).is_file()
    if rest is not None or whole or path.suffix.lower() not in (CSV, XLSX):
        return read_plan_from(path, rest, how), []
    read = plan_of_sheet(path, _complete(answers, plan), how)
    said = [f"Lanes, by their names or as given: {lanes_in_words(read.plan)}."]
    if read.plan.worksites:
        names = ", ".join(site.id for site in read.plan.worksites)
        said.append(f"Worksites as the tasks name them: {names}. Set 'return', the minutes to the airlock, of each.")
    return read, said


# --- questions ------------------------------------------------------------------------------------


def _on_a_terminal() -> bool:
    return sys.stdin.isatty()


def _asked(answers: Answers, tasks: list[dict[str, Any]], plan: Path) -> tuple[Answers, list[dict[str, Any]]]:
    """The answers and tasks, with what is missing asked for on a terminal. Each answer is tried at once, and asked for again."""
    asking = _on_a_terminal()
    answers = _complete(answers, plan)
    if asking and not answers.crew:
        answers = _lanes_asked(answers)
    if asking and not tasks:
        plan_of_answers(answers)  # what an option gave wrong is refused before anything more is typed
        print(f"Tasks, one per line, in order: {TASK_FORM}. An empty line ends the list.")
        while text := typer.prompt(f"Task {len(tasks) + 1}", default="", show_default=False).strip():
            try:
                tasks = [*tasks, _task_asked(text, answers, tasks)]
            except InputError as wrong:
                print(wrong)
    return answers, tasks


def _lanes_asked(answers: Answers) -> Answers:
    while True:
        crew = _names(typer.prompt("Crew lanes", default=" ".join(CREW)))
        arms = _names(typer.prompt("Arm lanes (empty: none)", default=" ".join(answers.arms), show_default=False))
        try:
            plan_of_answers(made := answers._replace(crew=crew, arms=arms))
        except InputError as wrong:
            print(wrong)
        else:
            return made


def _task_asked(text: str, answers: Answers, before: list[dict[str, Any]]) -> dict[str, Any]:
    """A task that was typed.

    Raises
    ------
    InputError
        When it has another form, a lane that the plan does not have, or a value that no plan can have.
    """
    made = _typed(text, len(before) + 1)
    lanes = (*answers.crew, *answers.arms)
    for name in made["lanes"]:
        if name not in lanes:
            raise InputError([Problem(f"task '{made['title']}'", "lanes of the plan", f"'{name}'", did_you_mean(name, lanes))])
    plan_of_answers(answers, [*before, made])
    return made


def _complete(answers: Answers, plan: Path) -> Answers:
    """The answers with start, limit, name, title and reserve, which are asked for on a terminal."""
    if _on_a_terminal():
        answers = answers._replace(
            title=answers.title or _prompt("Title of the sortie", "title", ""),
            id=answers.id or _prompt("Name of the sortie, without spaces", "id", _slug(plan)),
            start=answers.start or _prompt("Planned PET zero (UTC), such as 2031-04-12T09:10:00Z", "start"),
            limit=answers.limit or _prompt("Latest end, PET", "limit", "7:00"),
            reserve=answers.reserve or _prompt("Reserve, minutes", "reserve", "30"),
        )
    missing = [
        Problem(f"option {option}", what, "none", f"Give it, for instance {option} {example}.")
        for option, value, what, example in (
            ("--start", answers.start, "the planned PET zero (UTC)", "2031-04-12T09:10:00Z"),
            ("--limit", answers.limit, "the latest end, PET", "7:00"),
        ) if not value
    ]
    if missing:
        raise InputError(missing)
    return answers._replace(id=answers.id or _slug(plan))


def _prompt(text: str, key: str, default: str | None = None) -> str:
    while True:
        given = str(typer.prompt(text, default=default, show_default=bool(default))).strip()
        if (wrong := problem_of_answer(key, given)) is None:
            return given
        print(wrong.text())


def _slug(plan: Path) -> str:
    return re.sub(r"\s+", "-", plan.stem)[:60] or "sortie"


def _typed(text: str, number: int) -> dict[str, Any]:
    try:
        return typed_task(text, number)
    except ValueError as wrong:
        raise InputError([problem_of("--task", wrong)]) from None
