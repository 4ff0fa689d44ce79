#!/usr/bin/env python3
"""What becomes of the tests when src/ride/safety.c or control.c is wrong, or what stands around.

usage: mutate.py planted OUT     the faults of planted.txt, each caught by the rule it names
       mutate.py operators OUT   one operator or number changed at a time; survivors.txt excuses

OUT is a build folder, such as build/release, with the unit tests in it. A mutant is compiled by
itself and put before the library when a test is linked again; nothing of the tree changes.
"""
import os
import re
import shlex
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
TOP = os.path.dirname(os.path.dirname(HERE))
sys.path.insert(0, os.path.join(TOP, "tests/tools"))
import faults  # noqa: E402

SUBJECT = "src/ride/safety.c"
SEARCH = "test_safety_states"
CHANCE = "test_invariants"  # finds what is planted in other files
# Of what operators are changed in, and by which tests that is to be seen. The quick ones first: most
# mutants do not live to see the search.
CHANGED = {
    SUBJECT: ["test_safety", "test_holds", "test_letting_go", "test_ride", SEARCH, CHANCE],
    "src/ride/control.c": ["test_control", "test_holds", "test_letting_go", "test_safety", "test_ride",
                           CHANCE],
}


class Mutants:
    def __init__(self, out):
        self.out = out
        self.folder = tempfile.TemporaryDirectory()
        flags = open(os.path.join(out, "flags")).read()
        # The line that the Makefile keeps there is the compiler with the flags of both steps.
        self.compiler = shlex.split(flags)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def run(self, arguments, **more):
        return subprocess.run(arguments, capture_output=True, text=True, **more)

    def compile(self, text, subject=SUBJECT):
        """False: the compiler refuses it."""
        with open(self.path("mutant.c"), "w") as file:
            file.write(text)
        return self.run(self.compiler + ["-w", "-c", "-I", os.path.dirname(subject), "-o",
                                         self.path("mutant.o"),
                                         self.path("mutant.c")]).returncode == 0

    def failure_of(self, test):
        """What the test says with the mutant in it; None when it notices nothing."""
        program = self.path(test)
        linked = self.run(self.compiler + [
            "-o", program, f"{self.out}/tests/unit/ride/{test}.o", self.path("mutant.o"),
            f"{self.out}/libsupport.a", f"{self.out}/libafterset.a", "-lcmocka", "-lm"])
        if linked.returncode != 0:
            sys.exit(f"mutate.py: {test} does not link:\n{linked.stderr}")
        try:
            return self.first_complaint(program)
        except subprocess.TimeoutExpired:
            return "no end"

    @staticmethod
    def first_complaint(program):
        """One complaint is enough: the rest of a test need not be waited for."""
        with subprocess.Popen([program], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                              text=True) as running:
            for line in running.stderr:
                if "broken rule" in line or "Failure!" in line:
                    running.kill()
                    return line
            return None if running.wait(timeout=120) == 0 else "ended badly"


def read_planted():
    found = []
    for (name, rule_line), before, after in faults.read(os.path.join(HERE, "planted.txt")):
        rule, _, subject = rule_line.removeprefix("rule ").partition(" in ")
        found.append((name, rule, subject or SUBJECT, before, after))
    return found


def planted(mutants):
    all_planted = read_planted()
    wrong = 0
    for name, rule, subject, before, after in all_planted:
        if not mutants.compile(faults.plant(name, subject, before, after), subject):
            sys.exit(f"planted.txt: {name}: does not compile")
        said = mutants.failure_of(SEARCH if subject == SUBJECT else CHANCE)
        named = re.search(r"broken rule: ([a-z-]+)", said or "")
        if named is None or named.group(1) != rule:
            wrong += 1
            print(f"  {name}: {rule} does not catch it; "
                  f"{'nothing does' if named is None else named.group(1) + ' does'}")
    print(f"  {len(all_planted)} planted faults, {len(all_planted) - wrong} caught by the rule "
          "they name")
    return wrong == 0 and len(all_planted) > 0


OPERATORS = [
    (r"(?<![<>=!-])>(?![>=])", [">=", "<"]), (r">=", [">", "<="]), (r"(?<![<])<(?![<=])", ["<=", ">"]),
    (r"<=", ["<", ">="]), (r"==", ["!="]), (r"!=", ["=="]), (r"&&", ["||"]), (r"\|\|", ["&&"]),
    (r" \+ ", [" - "]), (r" - ", [" + "]), (r" \* ", [" / "]), (r"!(?=[a-z])", [""]),
    (r"\btrue\b", ["false"]), (r"\bfalse\b", ["true"]), (r"\b0\b", ["1"]), (r"\b1000\b", ["1001"]),
    (r"\b500u\b", ["501u", "499u"]),
]


def operator_mutants(text):
    """(line number, what becomes of the line, the whole text), for code lines only."""
    lines = text.split("\n")
    in_comment = False
    for number, line in enumerate(lines):
        if line.startswith("/*"):
            in_comment = True
        skip = in_comment or line.strip().startswith(("/*", "#include"))
        if "*/" in line:
            in_comment = False
        if skip:
            continue
        for pattern, replacements in OPERATORS:
            for found in re.finditer(pattern, line):
                for new in replacements:
                    changed = line[:found.start()] + new + line[found.end():]
                    yield number + 1, changed, "\n".join(lines[:number] + [changed] +
                                                         lines[number + 1:])
        # A statement left out.
        if re.match(r"\s+[a-z][\w>.-]* [+-]?= .*;$", line) or re.match(r"\s+[a-z_]+\(.*\);$", line):
            yield number + 1, f"(left out) {line.strip()}", "\n".join(lines[:number] + [""] + lines[number + 1:])


def changes():
    for subject in CHANGED:
        for number, changed, text in operator_mutants(open(subject).read()):
            yield subject, number, changed, text


def excuses():
    """file and changed line → why nobody can tell it from the right one"""
    found = {}
    for line in open(os.path.join(HERE, "survivors.txt")):
        if line.startswith("# ") or not line.strip():  # "#define" is no comment
            continue
        changed, _, reason = line.rstrip("\n").partition("   why: ")
        found[changed.strip()] = reason
    return found


def operators(mutants):
    known, used = excuses(), set()
    count = survived = 0
    for subject, number, changed, text in changes():
        if not mutants.compile(text, subject):
            continue
        count += 1
        if any(mutants.failure_of(test) for test in CHANGED[subject]):
            continue
        key = f"{os.path.basename(subject)}: {changed.strip()}"
        if known.get(key):
            used.add(key)
            continue
        survived += 1
        print(f"  survives: line {number} of {key}", flush=True)
    for key in sorted(set(known) - used):
        print(f"  survivors.txt excuses what does not survive: {key}")
    print(f"  {count} mutants, {len(used)} survive with a reason, {survived} without")
    return survived == 0 and count > 0 and set(known) == used


def main():
    modes = {"planted": planted, "operators": operators}
    if len(sys.argv) != 3 or sys.argv[1] not in modes:
        sys.exit(__doc__)
    os.chdir(TOP)
    sys.exit(0 if modes[sys.argv[1]](Mutants(sys.argv[2])) else 1)


main()
