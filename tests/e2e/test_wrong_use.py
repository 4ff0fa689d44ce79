#!/usr/bin/env python3
"""Command lines and files that are wrong: one line that says so, and the exit status."""
import os
import pathlib
import shutil
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, MACHINES, RELEASE, RIDERS, ROOT, Journey, main

P = str(ROOT / "profiles" / "20-10x8.profile")
M = str(MACHINES / "level.machine")
LONG = "unix:/" + 200 * "x"
COMMANDS = ("ride", "rehearse", "draft", "check", "log", "show", "report", "rider", "export", "import",
            "add", "replay", "virtual-bike")

# Arguments, exit status, what the line says.
LINES = [
    # the program
    ("nonsense", 2, "there is no command 'nonsense'"),
    ("--nonsense", 2, "there is no command '--nonsense'"),
    ("-x", 2, "there is no command '-x'"),
    ("'' x", 2, "there is no command ''"),
    # ride
    ("ride", 2, "takes one profile"),
    (f"ride {P} {P}", 2, "takes one profile"),
    (f"ride --nope {P}", 2, "'--nope' is no option"),
    (f"ride -j {P}", 2, "'-j' is no option"),
    (f"ride --jsonl=yes {P}", 2, "'--jsonl=yes' is no option"),
    *((f"ride {P} --{option}", 2, f"--{option} needs a value")
      for option in ("bike", "strap", "power", "cadence", "capture", "rate", "seed", "machine",
                     "virtual-rider")),
    *((f"ride --seed {seed} {P}", 2, "--seed wants a whole number")
      for seed in ("x", "-1", "+1", "1.5", "''", "0x10", "18446744073709551616")),
    *((f"ride --rate {rate} {P}", 2, "--rate wants a number from 0.1 to 10000")
      for rate in ("0", "-1", "1e3", "nan", "inf", "10001", "0.09", "''", "1,5", 400 * "9")),
    (f"ride --bike nonsense {P}", 2,
     "--bike wants virtual, usb, usb:12345, unix:PATH, capture:FILE or an address"),
    (f"ride --bike unix: {P}", 2, "--bike wants"),
    (f"ride --bike capture: {P}", 2, "--bike wants"),
    (f"ride --bike capture:/none {P}", 1, "/none: cannot be opened"),
    (f"ride --bike usb:0 {P}", 2, "--bike wants usb, usb:NUMBER with a number from 1 to 65535"),
    (f"ride --bike usb --strap usb@1-3 {P}", 2,
     "--strap usb@1-3: all that is on USB is heard through one receiver"),
    (f"ride --bike usb --rate 2 {P}", 2, "--rate is for virtual bikes"),
    (f"ride --strap usb:0 {P}", 2, "--strap wants usb, usb:NUMBER with a number from 1 to 65535"),
    (f"ride --cadence usb:65536 {P}", 2, "--cadence wants usb, usb:NUMBER with"),
    (f"ride --strap usb@ {P}", 2, "or usb@PLACE with a place"),
    (f"ride --strap usb@1-2 --power usb@1-3 {P}", 2,
     "--power usb@1-3: all that is on USB is heard through one receiver"),
    (f"ride --strap usb --rate 2 {P}", 2, "--rate is for virtual bikes"),
    ("scan --through air", 2, "--through wants bluetoothd, kernel or usb, not 'air'"),
    ("scan --through usb:7", 2, "--through wants bluetoothd, kernel or usb, not 'usb:7'"),
    ("rider usb-network-key 7", 2, "expected usb-network-key 16 hexadecimal digits or none"),
    (f"ride --strap virtual {P}", 2, "--strap wants usb, usb:12345, unix:PATH, capture:FILE or an address"),
    (f"ride --bike C0:12:34:56:78 {P}", 2, "or an address such as"),
    (f"ride --bike C0:12:34:56:78:9A/static {P}", 2, "or an address such as"),
    (f"ride --bike C0:12:34:56:78:9A --rate 2 {P}", 2, "--rate is for virtual bikes"),
    (f"ride --power virtual {P}", 2, "--power wants bike, usb, usb:12345, unix:PATH, capture:FILE or an address"),
    (f"ride --power C0:12:34:56:78:9A --cadence c0:12:34:56:78:9a {P}", 2, "name one device"),
    (f"ride --bike C0:12:34:56:78:9A --power c0:12:34:56:78:9a {P}", 2, "the bike's own address"),
    (f"ride --bike C0:12:34:56:78:9A --strap c0:12:34:56:78:9a {P}", 2, "the bike's own address"),
    (f"ride --machine {M} --bike unix:/x {P}", 2, "go with --bike virtual"),
    ("ride /none", 1, "/none: cannot be opened: No such file"),
    (f"ride {P} --cues-to FOLDER", 1, "FOLDER: it cannot be written: Is a directory"),
    ("ride -- --unrecorded", 1, "--unrecorded: cannot be opened"),
    ("ride FOLDER", 1, "FOLDER: cannot be read: Is a directory"),
    ("ride HUGE", 1, "HUGE: larger than"),
    ("ride /dev/zero", 1, "/dev/zero: larger than"),
    ("ride BINARY", 1, "BINARY:1:1: "),
    ("ride EMPTY", 1, "EMPTY:1:1: "),
    ("ride FAULTY", 1, "FAULTY:4:14: "),
    (f"ride --bike unix:/none {P}", 1, "--bike unix:/none: there is no such socket"),
    (f"ride --bike unix:FAULTY {P}", 1, "that is no socket"),
    (f"ride --bike unix:FOLDER {P}", 1, "that is no socket"),
    (f"ride --bike {LONG} {P}", 1, "the path is too long for a socket"),
    *((f"ride --{option} {file} {P}", 1, words)
      for option in ("machine", "virtual-rider")
      for file, words in (("/none", "cannot be opened"), ("FOLDER", "Is a directory"),
                          ("HUGE", "larger than"), ("BINARY", "BINARY:1:1: "),
                          (P, "expected a key of "))),
    (f"ride --machine BADMACHINE {P}", 1, "BADMACHINE:2:"),
    (f"ride --virtual-rider BADRIDER {P}", 1, "BADRIDER:1:"),
    # check
    ("check", 2, "check which profile?"),
    ("check /none", 1, "/none: cannot be opened"),
    ("check FOLDER", 1, "Is a directory"),
    ("check HUGE", 1, "larger than"),
    ("check BINARY", 1, "BINARY:1:1: "),
    ("check FAULTY", 1, "FAULTY:4:14: "),
    (f"check {P} FAULTY {P}", 1, "FAULTY:4:14: "),
    # log and show
    ("log x", 2, "'x' is one too many"),
    ("log --nope", 2, "unknown option --nope"),
    ("log --last", 2, "--last needs a number"),
    *((f"log --last {n}", 2, "--last takes a number from 1")
      for n in ("0", "-1", "x", "''", "1.5", "99999999999999999999")),
    ("log --before 1.2.2025", 2, "--before takes a day such as 2025-11-10"),
    ("log --weeks 0", 2, "--weeks wants a whole number from 1 to 8"),
    ("log --after lunch", 2, "--after takes fresh or legs"),
    ("report x", 2, "'x' is one too many"),
    ("report --nope", 2, "unknown option --nope"),
    ("report --out", 2, "--out needs a word"),
    ("report --ride x", 2, "--ride takes the number of a ride"),
    ("report --before 2025-02-30", 2, "--before takes a day such as 2025-11-10"),
    ("show", 2, "takes the number of one ride"),
    ("show 1 2", 2, "takes the number of one ride"),
    ("show --nope", 2, "unknown option --nope"),
    ("show --jsonl --journal 1", 2, "exclude each other"),
    *((f"show {n}", 2, "is not the number of a ride") for n in ("x", "0", "''", "1x", "1.0")),
    ("show 99", 1, "there is no ride 99"),
    ("show --journal 99", 1, "there is no ride 99 with a journal"),
    # export, import, add
    ("export", 2, "say as what"),
    ("export 1", 2, "say as what"),
    ("export --as", 2, "--as needs a value"),
    ("export 1 --as gpx", 2, "--as wants csv, json or fit, not 'gpx'"),
    ("export --as csv", 2, "takes the number of one ride, or --all"),
    ("export x --as csv", 2, "takes the number of one ride, or --all"),
    ("export 1 2 --as csv", 2, "takes the number of one ride, or --all"),
    ("export --all --as csv", 2, "wants a folder"),
    ("export --all 1 --as csv", 2, "--all takes no number"),
    ("export --nope", 2, "unknown option --nope"),
    ("export 99 --as csv", 1, "there is no ride 99"),
    ("export 99 --as fit", 1, "there is no ride 99"),
    ("import", 2, "takes files out of afterset export, or tables"),
    ("import --nope", 2, "takes files out of afterset export, or tables"),
    ("import /none", 1, "/none: cannot be opened"),
    ("import FOLDER", 1, "Is a directory"),
    ("import HUGE", 1, "HUGE:200001:1: expected the names of columns"),
    ("import /dev/zero", 1, "/dev/zero: larger than"),
    ("import BINARY", 1, "BINARY:1:1: expected UTF-8 text"),
    ("import EMPTY", 1, "EMPTY:1:1: expected the names of columns"),
    ("import FAULTY", 1, "FAULTY:1:1: expected a column"),
    ("add", 2, "expected a length, found none"),
    ("add --length 5:00", 2, "expected work or power, found none"),
    ("add --length 5 --power 200", 2, "--length: expected minutes and seconds"),
    ("add --length 5:00 --power x", 2, "--power: expected whole watts"),
    ("add --length 5:00 --power 200 --date 2199-01-01", 2, "expected a day that has been"),
    ("add --length 5:00 --power 200 --date 20.11.2026", 2, "--date: expected a day"),
    ("add --length 5:00 --power 200 x", 2, "'x' is one too many"),
    ("add --length", 2, "--length needs a value"),
    ("add --nope", 2, "unknown option --nope"),
    # rider
    ("rider mass", 2, "'mass' has no value"),
    ("rider mass 70 age", 2, "'age' has no value"),
    ("rider nope 3", 2, "rider: expected the name of a setting, found 'nope'; 'afterset rider' lists"),
    ("rider '' 3", 2, "expected the name of a setting"),
    *((f"rider mass {value}", 2, "expected mass 25 to 250 kg")
      for value in ("x", "-1", "1e2", "24.9", "250.1", "70.55", "99999999999", "''")),
    ("rider age 30 mass x", 2, "expected mass"),
    # replay
    ("replay", 2, "takes one journal file"),
    ("replay a b", 2, "takes one journal file"),
    ("replay --nope", 2, "takes one journal file"),
    ("replay /none", 1, "/none: cannot be opened"),
    ("replay FOLDER", 1, "Is a directory"),
    ("replay BINARY", 1, "BINARY:1:"),
    ("replay EMPTY", 1, "EMPTY:1:"),
    (f"replay {P}", 1, ":1:"),
    # virtual-bike
    ("virtual-bike", 2, "wants one of --listen unix:PATH and --adapter hciN"),
    ("virtual-bike --listen unix:/none/x --adapter hci0", 2, "wants one of"),
    ("virtual-bike --adapter eth0", 2, "--adapter wants hci0"),
    ("virtual-bike --adapter hci0 --rate 2", 2, "--rate goes with --listen"),
    ("virtual-bike --listen unix:/tmp/x --power-only --cadence-only", 2, "a device of its own"),
    ("virtual-bike --adapter hci0 --strap-only --no-strap", 2, "leave nothing"),
    ("virtual-bike --nope", 2, "unknown option '--nope'"),
    ("virtual-bike --listen", 2, "a value is missing"),
    ("virtual-bike --listen nowhere", 2, "--listen wants unix:PATH"),
    ("virtual-bike --listen unix:", 2, "--listen wants unix:PATH"),
    ("virtual-bike --listen unix:/none/x", 1, "cannot listen there: No such file"),
    ("virtual-bike --listen unix:FAULTY", 1, "cannot listen there: Address already in use"),
    (f"virtual-bike --listen {LONG}", 1, "too long for a socket"),
    ("virtual-bike --listen unix:/none/x y", 2, "takes no argument 'y'"),
    ("virtual-bike --listen unix:/none/x --rate 0", 2, "--rate wants a number"),
    ("virtual-bike --listen unix:/none/x --seed -1", 2, "--seed wants a whole number"),
    ("virtual-bike --listen unix:/none/x --machine BADMACHINE", 1, "BADMACHINE:2:"),
    ("virtual-bike --listen unix:/none/x --rider BADRIDER", 1, "BADRIDER:1:"),
]


class WrongUse(Journey):
    def setUp(self):
        super().setUp()
        (self.home / "FOLDER").mkdir()
        self.write("HUGE", b"# a comment line that goes on and on\n" * 200000)
        self.write("BINARY", bytes(range(256)) * 40)
        self.write("EMPTY", b"")
        self.write("FAULTY", "title  Invented\nlength 3:00..7:00\nrounds 8\n"
                             "  work 0:20  speed 1..2 W\nend\n")
        self.write("BADMACHINE", "name  Invented\ndata-rate  4 parsecs\n")
        self.write("BADRIDER", "critical-power  none\n")

    def words(self, line):
        names = ("FOLDER", "HUGE", "BINARY", "EMPTY", "FAULTY", "BADMACHINE", "BADRIDER")
        for word in line.split(" "):
            word = "" if word == "''" else word
            for name in names:
                word = word.replace(name, str(self.home / name))
            yield word

    def test_help_for_what_is_no_command(self):
        self.assert_ends(self.run_program("help", "fly"), 2, "there is no command 'fly'")

    def test_rider_says_what_each_missing_setting_means(self):
        lines = self.run_program("rider").out.split("\n\n")[0].splitlines()
        self.assertGreater(len(lines), 10)
        for line in lines:
            if line.startswith("experienced"):  # has been set for all journeys
                continue
            self.assertRegex(line, r"^[a-z-]+ +(none|no) +[a-z0-9]")

    def test_lines(self):
        for line, status, says in LINES:
            with self.subTest(line[:100]):
                done = self.run_program(*self.words(line), program=ASAN)
                self.assertEqual(done.status, status, done.err)
                self.assert_one_line(done.err)
                self.assertIn(says, done.err)
                if not line.startswith("check"):
                    self.assertEqual(done.out, "")
        self.assertEqual(self.run_program("log", "--jsonl").out, "")  # none began

    def test_nothing_is_left_behind(self):
        """Wrong use makes no ride."""
        for line, status, _ in LINES:
            if status == 2:
                self.run_program(*self.words(line))
        self.assertFalse(self.database.exists())
        self.assertEqual(list(self.settings_file.parent.iterdir()), [self.settings_file])

    def test_unrecorded_is_unrecorded(self):
        self.assert_ends(self.run_program("ride", self.short, "--unrecorded", "--rate", 10000), 0)
        self.assertFalse(self.database.exists())

    def test_check_goes_on(self):
        """One line for each bad file, and the good ones all the same."""
        done = self.run_program("check", P, "/none", self.home / "FAULTY", self.short)
        self.assertEqual(done.status, 1)
        self.assertEqual(done.out.count(" of intervals "), 2)
        self.assertEqual(len(done.err.splitlines()), 2)

    def test_no_command(self):
        """What to ride today, as lines where there is no terminal; nothing is left behind."""
        done = self.run_program()
        self.assert_ends(done, 0)
        self.assertRegex(done.out, r"(?m)^Ride    20/10$")
        self.assertIn("afterset ride PROFILE", done.out)
        self.assertFalse(self.database.exists())

    def test_help(self):
        for arguments in (["--help"], ["help"], *([command, "--help"] for command in COMMANDS),
                          *([command, "--nope", "x", "--help"] for command in COMMANDS)):
            with self.subTest(arguments):
                done = self.run_program(*arguments, program=ASAN)
                self.assert_ends(done, 0)
                self.assertTrue(done.out.startswith(("usage: afterset", "afterset ")), done.out)
                if done.out.startswith("usage: "):
                    for line in done.out.split("\n\n")[0].splitlines()[1:]:
                        self.assertTrue(line.startswith("       "), line)
                for line in done.out.splitlines():
                    self.assertLessEqual(len(line), 100)
                    self.assertEqual(line, line.rstrip())
        whole = self.run_program("--help").out
        for command in COMMANDS:
            self.assertRegex(whole, rf"(?m)^  {command} ")

    def test_help_tells_every_option(self):
        """What is understood is told: the options named in this journey's table, at least."""
        known = {"ride": "--bike --strap --power --cadence --rate --seed --machine "
                         "--virtual-rider --plain --jsonl --capture --cautions-read --unrecorded",
                 "log": "--before --weeks --profile --bike --after --last --plain --jsonl",
                 "show": "--jsonl --journal",
                 "report": "--out --before --ride --profile --bike --after",
                 "virtual-bike": "--listen --adapter --strap-only --power-only --cadence-only "
                                 "--no-strap --machine --rider "
                                 "--seed --rate"}
        for command, options in known.items():
            text = self.run_program(command, "--help").out
            for option in options.split():
                self.assertIn(f"  {option}", text.replace("[", " ").replace("| ", " "))

    def test_help_tells_every_key(self):
        """README's list of keys is the other one."""
        text = " ".join(self.run_program("ride", "--help").out.split())
        for key in ("space holds", "s, q or Ctrl-C stops", "+ and - shift", "n twice goes", "m mutes", "Ctrl-Z"):
            self.assertIn(key, text)

    def test_version(self):
        done = self.run_program("--version")
        self.assert_ends(done, 0)
        self.assertRegex(done.out, r"^afterset \d+\.\d+\.\d+\n$")

    def test_help_into_a_full_device(self):
        """What could not be said is not called done."""
        for command in (("check", P), ("rider",), ("log",)):
            with self.subTest(command), open("/dev/full", "wb") as full:
                pid = os.posix_spawn(RELEASE, ["afterset", *command], self.env,
                                     file_actions=[(os.POSIX_SPAWN_DUP2, full.fileno(), 1),
                                                   (os.POSIX_SPAWN_OPEN, 2, "/dev/null",
                                                    os.O_WRONLY, 0)])
                self.assertEqual(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), 1)

    # ---- the rider file ----

    def rider_file(self, content):
        path = self.home / "config" / "afterset" / "rider"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        return path

    def test_corrupt_rider_file(self):
        """It is told with its place, ridden by nobody, and not written over."""
        contents = {b"mass 75 kg\nage soon\n": ":2:", b"\0\1\2\xff" * 30: ":1:",
                    b"nope 3\n": ":1:", b"mass 75 kg\nmass 76 kg\n": ":2:",
                    b"age 30" * 30000: "larger than"}
        for content, place in contents.items():
            with self.subTest(content[:20]):
                path = self.rider_file(content)
                for command in (("rider",), ("rider", "mass", "70"),
                                ("ride", self.short, "--rate", 10000)):
                    done = self.run_program(*command, program=ASAN)
                    self.assertEqual((done.status, done.out), (1, ""), done.err)
                    self.assert_one_line(done.err)
                    self.assertIn(place, done.err)
                    self.assertEqual(path.read_bytes(), content)

    def test_rider_is_kept(self):
        """All or nothing: one wrong value and none of the others is kept."""
        self.assert_ends(self.run_program("rider", "mass", "75.5", "age", "31"), 0)
        path = self.home / "config" / "afterset" / "rider"
        self.assertEqual(path.stat().st_mode & 0o777, 0o600)
        before = path.read_bytes()
        done = self.run_program("rider", "age", "40", "mass", "1")
        self.assert_ends(done, 2, "expected mass")
        self.assertEqual(path.read_bytes(), before)
        done = self.run_program("rider")
        self.assert_ends(done, 0)
        self.assertRegex(done.out, r"(?m)^mass +75\.5 kg$")
        self.assertRegex(done.out, r"(?m)^age +31")
        self.assert_ends(self.run_program("rider", "age", "none"), 0)
        self.assertNotIn("31", self.run_program("rider").out)

    def test_rider_answers_what_was_set(self):
        done = self.run_program("rider", "w-prime", "16", "mass", "75.5")
        self.assertEqual(done.lines, ["mass            75.5 kg", "w-prime         16.0 kJ"])
        done = self.run_program("rider", "age", "30")
        self.assertEqual(done.lines[:2], ["age             30 years",
                                          "Heart rate limit 187 bpm, a caution from 182 bpm."])

    def test_rider_never_shows_the_network_key(self):
        """It belongs to whoever licenses it. (Invented.)"""
        key = "00C0FFEEC0FFEE99"
        done = self.run_program("rider", "usb-network-key", key)
        self.assertEqual(done.lines, ["usb-network-key is kept"])
        self.assertIn(key, self.settings_file.read_text())
        for words in ((), ("usb-network-key", key + "9"), ("usb-network-key", key[1:])):
            done = self.run_program("rider", *words)
            self.assertNotIn(key[1:], done.out + done.err)
        done = self.run_program("rider", "usb-network-key", "none")
        self.assertRegex(done.out, "^usb-network-key none +sensors .* are out of reach$")

    def test_rider_cannot_be_saved(self):
        shutil.rmtree(self.settings_file.parent)
        self.settings_file.parent.write_text("a file in the way\n")
        done = self.run_program("rider", "mass", "70")
        self.assertEqual(done.status, 1)
        self.assert_one_line(done.err)

    def test_abbreviated_options(self):
        """As getopt_long(3) has them, where they are unique."""
        done = self.run_program("ride", self.short, "--unrec", "--json", "--rat", 10000)
        self.assert_ends(done, 0)

    def test_good_files_are_good(self):
        for machine in MACHINES.glob("*.machine"):
            for rider in RIDERS.glob("*.rider"):
                if "steady" in rider.name or "power" in machine.name:
                    done = self.run_program("virtual-bike", "--listen", "unix:/none/x", "--machine",
                                            machine, "--rider", rider)
                    self.assert_ends(done, 1, "^afterset: /none/x: cannot listen there")


if __name__ == "__main__":
    main()
