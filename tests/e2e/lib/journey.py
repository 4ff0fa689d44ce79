"""What the journeys share: the program, a home of its own, and what every ride must keep to."""
import contextlib
import ctypes
import fcntl
import functools
import json
import os
import pathlib
import re
import resource
import select
import shutil
import signal
import socket
import subprocess
import tempfile
import termios
import threading
import time
import unittest

from sums import check_lines

ROOT = pathlib.Path(__file__).resolve().parents[3]
BUILD = pathlib.Path(os.environ.get("AFTERSET_BUILD", ROOT / "build"))
RELEASE = BUILD / "release" / "afterset"
ASAN = BUILD / "asan" / "afterset"
SHIPPED = sorted((ROOT / "profiles").glob("*.profile"))
# Those that begin on the bike, at once.
PROFILES = [path for path in SHIPPED if "\nfloor" not in path.read_text()]
MACHINES = ROOT / "tests" / "machines"
RIDERS = ROOT / "tests" / "riders"
DEADLINE_S = 60  # for anything that is awaited: far more than a loaded machine needs

# The shortest block there is; a cool-down, so that nobody is asked to ride out.
SHORT_PROFILE = """title     Invented short block
length    3:00..7:00
rounds 4
  work    0:30  power 200..220 W
  rest    0:15  power 80..100 W
end
cool-down 0:05  power 50..60 W
"""


def _die_with_parent():
    pr_set_pdeathsig = 1
    ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGKILL)


def unwrapped(text):
    """Without the breaks that fit sentences to a terminal: what is broken goes on two columns in."""
    return re.sub(r"\n  (?=\S)", " ", text)


class Done:
    """A program that has ended. `lines` are those of its output."""

    def __init__(self, status, out, err):
        self.status, self.out, self.err = status, out, err
        self.lines = out.splitlines()

    def json(self):
        return [json.loads(line) for line in self.out.splitlines()]


class Running:
    """A program that runs; its lines are taken as they come."""

    def __init__(self, arguments, env, program, terminal=None):
        """`terminal`: a descriptor that becomes its input and its controlling terminal."""
        def prepare():
            _die_with_parent()
            if terminal is not None:
                os.setsid()
                fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        self.process = subprocess.Popen(
            [str(program), *map(str, arguments)], env=env,
            stdin=subprocess.DEVNULL if terminal is None else terminal,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=prepare)
        self.pid = self.process.pid
        self.waiting = b""
        self.out_closed = False
        self.text = []

    def line(self):
        """The next line without its end, or None after the last; a part without end is dropped."""
        give_up = time.monotonic() + DEADLINE_S
        while b"\n" not in self.waiting:
            left = give_up - time.monotonic()
            if left <= 0 or not select.select([self.process.stdout], [], [], left)[0]:
                raise AssertionError(f"no line in {DEADLINE_S} s; so far {self.text[-3:]}")
            part = os.read(self.process.stdout.fileno(), 65536)
            if not part:
                self.out_closed = True
                return None
            self.waiting += part
        line, self.waiting = self.waiting.split(b"\n", 1)
        self.text.append(line.decode())
        return self.text[-1]

    def event(self):
        line = self.line()
        return None if line is None else json.loads(line)

    def wait_for(self, wanted, what="what was waited for"):
        """Takes lines of JSON until wanted(event); gives that one."""
        while (event := self.event()) is not None:
            if wanted(event):
                return event
        self.process.wait(DEADLINE_S)
        raise AssertionError(f"it ended before {what}: {self.text[-5:]} "
                             f"{self.process.stderr.read().decode()}")

    def take_waiting(self):
        """Takes the lines that are there by now."""
        while b"\n" in self.waiting or select.select([self.process.stdout], [], [], 0)[0]:
            if self.line() is None:
                return

    def rest(self):
        while not self.out_closed and self.line() is not None:
            pass

    def signal(self, number):
        self.process.send_signal(number)

    def controller(self):
        """The process that rides: the guard's child, or the program itself where it has none."""
        text = pathlib.Path(f"/proc/{self.pid}/task/{self.pid}/children").read_text()
        return int(text.split()[0]) if text else self.pid

    def kill(self):
        os.kill(self.controller(), signal.SIGKILL)
        return self.finish()

    def finish(self):
        self.rest()
        err = self.process.stderr.read().decode()
        status = self.process.wait(DEADLINE_S)
        self.process.stdout.close()
        self.process.stderr.close()
        return Done(status, "".join(line + "\n" for line in self.text), err)

    def abandon(self):
        """For cleaning up; harmless when it has ended already."""
        if self.process.poll() is None:
            with contextlib.suppress(FileNotFoundError, ProcessLookupError):
                os.kill(self.controller(), signal.SIGKILL)
            self.process.kill()
            self.process.wait()
        for pipe in (self.process.stdout, self.process.stderr):
            pipe.close()


class Journey(unittest.TestCase):
    """A test with a home of its own."""

    maxDiff = None
    machine = os.environ.get("AFTERSET_JOURNEY_MACHINE")  # see on_machines(); None: the built-in one

    def setUp(self):
        self.home = pathlib.Path(tempfile.mkdtemp(prefix="home."))
        self.addCleanup(shutil.rmtree, self.home)
        for name in ("data", "config", "runtime", "tmp"):
            (self.home / name).mkdir(mode=0o700)
        # An asan build that finds something must not look like a cut-off or a failed command.
        self.env = dict(os.environ, HOME=str(self.home), XDG_DATA_HOME=str(self.home / "data"),
                        XDG_CONFIG_HOME=str(self.home / "config"),
                        XDG_CACHE_HOME=str(self.home / "cache"),
                        XDG_RUNTIME_DIR=str(self.home / "runtime"), TMPDIR=str(self.home / "tmp"),
                        TZ="UTC", LC_ALL="C.UTF-8", ASAN_OPTIONS="exitcode=99",
                        UBSAN_OPTIONS="print_stacktrace=1:halt_on_error=1:exitcode=99")
        # A device that takes everything and is silent, whatever this machine has.
        self.use_device("pcm.!default { type null }\n")
        self.short = self.write("short.profile", SHORT_PROFILE)
        # The first blocks of a new rider have a journey of their own.
        self.settings_file.parent.mkdir(mode=0o700)
        self.settings_file.write_text("experienced yes\n")
        self.settings_file.chmod(0o600)

    def use_device(self, text):
        """`text` is a configuration of ALSA."""
        self.env["ALSA_CONFIG_PATH"] = str(self.write("alsa.conf", text))

    def write(self, name, text):
        path = self.home / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    @property
    def settings_file(self):
        return self.home / "config" / "afterset" / "rider"

    @property
    def database(self):
        return self.home / "data" / "afterset" / "rides.db"

    # ---- running ----

    def on_machine(self, arguments):
        """The virtual bike that these would start is of the journey's machine."""
        words = [str(word) for word in arguments]
        is_bike = words[:1] == ["virtual-bike"] and not any(word.endswith("-only") for word in words)
        is_ride = words[:1] == ["ride"] and "--bike" not in words
        if self.machine is None or "--machine" in words or not (is_bike or is_ride):
            return words
        return [*words, "--machine", str(MACHINES / f"{self.machine}.machine")]

    def run_program(self, *arguments, program=RELEASE, env=None, stdin=subprocess.DEVNULL,
                    limit_file_octets=None):
        def prepare():
            _die_with_parent()
            if limit_file_octets is not None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit_file_octets, limit_file_octets))

        done = subprocess.run([str(program), *self.on_machine(arguments)], env=env or self.env,
                              stdin=stdin, capture_output=True, timeout=DEADLINE_S, check=False,
                              preexec_fn=prepare)
        return Done(done.returncode, done.stdout.decode(), done.stderr.decode())

    def start_program(self, *arguments, program=RELEASE, terminal=None):
        running = Running(self.on_machine(arguments), self.env, program, terminal)
        self.addCleanup(running.abandon)
        return running

    def start_bike(self, path, *arguments, program=RELEASE):
        """A virtual bike in a process of its own that listens already."""
        bike = self.start_program("virtual-bike", "--listen", f"unix:{path}", *arguments,
                                  program=program)
        said = bike.line() or bike.process.stderr.read().decode()
        if said == "listening on":  # the path of a deep home goes on in a line of its own
            said += " " + bike.line().lstrip()
        self.assertRegex(said, "^listening on unix:")
        return bike

    def wait_working(self, ride):
        """In work: under its load, or with the legs turning where their own hand makes that."""
        if self.machine != "no-control":
            least = 100 if self.machine is None else 1  # W, or levels
            return ride.wait_for(lambda event: event["event"] == "load" and
                                 load_height(event) >= least, "the load of work")
        ride.wait_for(is_kind("step", kind="work"), "work")
        return ride.wait_for(lambda event: event["event"] == "telemetry" and event["power_w"],
                             "power")

    def start_ride_on(self, machine, rate, *arguments, **more):
        """A ride of the short profile, `rate` times as fast, on a bike in a process of its own:
        `machine` is the text of its file. `program=` is that of both, or the bike would count as a
        real one."""
        path = self.home / "bike"
        self.start_bike(path, "--rate", rate, "--machine", self.write("bike.machine", machine),
                        **more)
        return self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{path}",
                                  "--rate", rate, *arguments, **more)

    def leave(self, ride, err=""):
        """Ends a ride that is under way; its lines, which add up."""
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0, err)
        lines = done.json()
        check_lines(self, lines)
        return lines

    # ---- what must hold ----

    def assert_ends(self, done, status, err=""):
        """`err` is a regular expression for the one line, or empty for silence."""
        self.assertEqual(done.status, status, f"stderr: {done.err}\nstdout ends: {done.out[-600:]}")
        if err == "":
            self.assertEqual(done.err, "")
        else:
            self.assert_one_line(done.err)
            self.assertRegex(done.err, err)

    def assert_one_line(self, text):
        self.assertEqual(text.count("\n"), 1, f"not one line: {text!r}")
        self.assertTrue(text.endswith("\n"), f"no end of line: {text!r}")
        self.assertRegex(text, r"^(afterset: |[^\n]*:[0-9]+:[0-9]+: )")

    def show(self, ride_id):
        done = self.run_program("show", ride_id, "--jsonl")
        self.assert_ends(done, 0)
        return done.json()[0]

    def journal(self, ride_id):
        done = self.run_program("show", ride_id, "--journal")
        self.assert_ends(done, 0)
        return done.out


def on_machines(journey, *tests, machines=("level", "no-control")):
    """The same tests once more on a bike that takes levels, and on one that takes nothing.

    Gives the classes, named after journey and machine, for a module to hold.

    These are the tests in which the machine's way to a load can matter. AFTERSET_JOURNEY_MACHINE runs
    any other; most pass. What cannot on principle:
    - where a brake is turned by hand nothing can be released, answered or refused: the bike that
      lets go by itself (test_killed), the foreign client at its control point (test_foreign_peer);
      + and - are the number on the knob there (test_screen), not the load (test_terminal);
    - a range that is narrower than a number on the knob is met by chance, so the rule that goes by
      the share in range is tried on the others (test_advice);
    - watts to the digit are those of a machine that takes watts (test_terminal.test_more_and_less,
      test_profiles_by_machines.check_strap);
    - a journal changed behind the program's back is no ride of another machine (test_log).
    """
    def made(machine):
        others = {name: None for name in dir(journey)
                  if name.startswith("test_") and name not in tests}
        name = f"{journey.__name__}On{machine.title().replace('-', '')}"
        return type(name, (journey,), {"machine": machine, "__module__": journey.__module__, **others})

    return {made.__name__: made for made in map(made, machines)}


class Watchman(threading.Thread):
    """Notices when this machine is too busy to let a process run in time."""

    LATE_S = 0.06

    def __init__(self):
        super().__init__(daemon=True)
        self.worst_s = 0.0
        self.over = threading.Event()

    def run(self):
        due = time.monotonic() + 0.01
        while not self.over.wait(max(0, due - time.monotonic())):
            self.worst_s = max(self.worst_s, time.monotonic() - due)
            due = time.monotonic() + 0.01


def real_time(journey):
    """For rides in the system's time, run many times faster than riders ride.

    At 20 times, 150 ms in which a process gets no processor are 3 s without an answer: the ride
    does what it must, and it is not what the journey asks. Only when this machine was seen to be
    late is such a journey done again, twice at most. So what fails in a subTest has to end the test:
    unittest would keep it, and nothing be done again.
    """
    journey.subTest = lambda self, what=None, **more: about(what or more)
    for name in [name for name in vars(journey) if name.startswith("test_")]:
        setattr(journey, name, _again_when_late(getattr(journey, name)))
    return journey


def minds_being_late_by(late_s):
    """For a test of real_time() that a shorter wait for a processor disturbs already."""
    def mark(test):
        test.late_s = late_s
        return test

    return mark


def _again_when_late(test):
    @functools.wraps(test)
    def attempt(self):
        for attempts_left in (2, 1, 0):
            watchman = Watchman()
            watchman.start()
            try:
                test(self)
                return
            except AssertionError as failure:
                if attempts_left == 0 or watchman.worst_s < getattr(test, "late_s", Watchman.LATE_S):
                    raise
                print(f"late by {watchman.worst_s:.3f} s, so once more: {failure}"[:300])
            finally:
                watchman.over.set()
                watchman.join()
            self.doCleanups()
            self.setUp()

    return attempt


@contextlib.contextmanager
def about(what):
    """Names the case in what fails inside; unlike a subTest it lets the failure through."""
    try:
        yield
    except AssertionError as failure:
        raise AssertionError(f"{what}: {failure}") from failure


def await_condition(condition, what):
    """Polls for what no descriptor tells of."""
    give_up = time.monotonic() + DEADLINE_S
    while not condition():
        if time.monotonic() > give_up:
            raise AssertionError(f"waited {DEADLINE_S} s for {what}")
        time.sleep(0.005)


def connect(path):
    """A packet socket to a bike that listens at `path`."""
    link = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    link.settimeout(DEADLINE_S)
    link.connect(str(path))
    return link


def load_height(event):
    """Of what the machine is told: W or level; 0: released."""
    return event["power_w"] or event["level"] or 0


def is_kind(name, **fields):
    """A condition for Running.wait_for."""
    fields["event"] = name
    return lambda event: all(event.get(key) == value for key, value in fields.items())


def main():
    unittest.main(verbosity=2)
