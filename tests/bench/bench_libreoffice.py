"""LibreOffice opens and saves again what `convert` wrote, and `convert` reads it back: is the plan still the same?

It needs `soffice` (Debian: ``apt-get install --no-install-recommends libreoffice-calc-nogui``), without a window.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from dashboard.core.base.problems import InputError
from dashboard.core.plan.model import Plan
from dashboard.log.plan_files import read_plan_from, rest_beside, write_plan_to
from dashboard.log.planfile import load_plan

DEMO = Path(__file__).parents[2] / "replay" / "scenarios" / "lantern-2" / "plan.toml"
WAIT_S = 120


def main() -> None:
    """Say for XLSX and CSV whether the plan came back without loss; exit code 1 when it did not."""
    office = shutil.which("soffice")
    if office is None:
        sys.exit("soffice: expected LibreOffice on this computer; found none. Install libreoffice-calc-nogui.")
    plan, lost = load_plan(DEMO), False
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for first, then in ((".xlsx", ".xlsx"), (".csv", ".csv"), (".xlsx", ".ods.xlsx"), (".xlsx", ".csv")):
            written = folder / "written" / f"plan{first}"
            saved = _saved(office, folder, written, then, plan)
            try:
                rest = rest_beside(folder / "written" / "plan.csv") if then == ".csv" else None
                same = read_plan_from(saved, rest).plan == plan
                said = "the same plan" if same else "another plan"
            except InputError as wrong:
                same, said = False, str(wrong)
            lost = lost or not same
            print(f"{first} opened and saved as {then} by LibreOffice, read back: {said}")
    sys.exit(int(lost))


def _saved(office: str, folder: Path, written: Path, then: str, plan: Plan) -> Path:
    """The file that LibreOffice saved; `then` names the endings on the way."""
    written.parent.mkdir(exist_ok=True)
    write_plan_to(written, plan, None)
    path = written
    for number, ending in enumerate(then.split(".")[1:]):
        out = folder / f"{written.suffix[1:]}{then}{number}"
        profile = f"-env:UserInstallation=file://{folder}/profile"
        command = [office, profile, "--headless", "--convert-to", ending, "--outdir", str(out), str(path)]
        subprocess.run(command, check=True, capture_output=True, timeout=WAIT_S)
        path = out / f"plan.{ending}"
    return path


if __name__ == "__main__":
    main()
