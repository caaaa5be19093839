"""Runs one focuslag command as a step, and says whether the step is done.

    step.py clip    RECORD COMMAND...         keeps what COMMAND --json says
    step.py judge   RECORD STEPS COMMAND...   the same, from signals where there are all
    step.py compare FILE JUDGED FOCUSLAG      compares the timing files of JUDGED
    step.py page    FILE JUDGED FOCUSLAG      makes one page of them
    step.py words   JUDGED                    says what could not be read; fails then

A clip that cannot be read is no reason to try again: its step is done, and its
record says what is wrong. What was stopped or could not be written (`unfinished`)
fails, and so does a wrong request (exit code 2).
"""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path


def call(command):
    """Exit code and standard output; whoever ends this step ends the command."""
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    signal.signal(signal.SIGTERM, lambda *_: child.terminate())
    out, _ = child.communicate()
    return child.returncode, out


def write(path, text):
    """Whole or not at all: nothing half is ever taken for a result."""
    part = Path(f"{path}.{os.getpid()}.part")
    try:
        part.write_text(text)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def recorded(record, command):
    code, out = call([*command, "--json"])
    try:
        told = json.loads(out)
    except ValueError:
        return code or 1
    if code not in (0, 1) or told.get("unfinished", True):
        return code or 1
    write(record, out)
    return 0


def clip(record, *command):
    return recorded(record, command)


def judge(record, steps, *command):
    records = [json.loads(p.read_text()) for p in Path(steps).glob("*.json")]
    # Where a clip failed, judging has to look at it to say the same of it.
    clips = [c for r in records for c in r["signals"]]
    whole = all(c["file"] and Path(c["file"]).is_file() for c in clips)
    signals = ["--signals", str(Path(record).parent / "signals")]
    return recorded(record, [*command, *signals, *(["--from-signals"] if whole else [])])


def timings(judged):
    return [t["file"] for t in json.loads(Path(judged).read_text())["timings"]]


def compare(file, judged, focuslag):
    files = timings(judged)
    if len(files) < 2:
        write(file, "There are not two setups to compare.\n")
        return 0
    command = [focuslag, "compare", *files, "--format", "markdown"]
    told = subprocess.run(command, capture_output=True, text=True)
    sys.stderr.write(told.stderr)
    if told.returncode == 2:
        # These files are of one run: what cannot be compared is a finding.
        write(file, f"There is no comparison.\n\n{told.stderr}")
        return 0
    write(file, told.stdout)
    return told.returncode


def page(file, judged, focuslag):
    files = timings(judged)
    if not files:
        write(file, "<!doctype html><title>No result</title><p>No setup could be judged.\n")
        return 0
    return call([focuslag, "report", *files, "-o", file])[0]


def words(judged):
    told = json.loads(Path(judged).read_text())
    for timing in told["timings"]:
        print(f"written: {timing['file']}")
    steps = Path(judged).parent / "steps"
    for failure in told["failures"]:
        print(f"error: {failure}", file=sys.stderr)
    if told["failures"]:
        print(
            "All else is done. Mend these and start again: a changed clip is noticed; to try one "
            f"again as it is, delete its record in {steps}",
            file=sys.stderr,
        )
    return 1 if told["failures"] else 0


if __name__ == "__main__":
    todo = {f.__name__: f for f in (clip, judge, compare, page, words)}
    try:
        sys.exit(todo[sys.argv[1]](*sys.argv[2:]))
    except OSError as e:
        print(f"error: {e.filename}: {e.strerror}", file=sys.stderr)
        sys.exit(1)
