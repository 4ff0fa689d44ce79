#!/usr/bin/env python3
"""The same seed gives the same ride, to the octet; a recorded ride runs again as it was."""
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, MACHINES, RELEASE, RIDERS, ROOT, Journey, main

PROFILE = ROOT / "profiles" / "20-10x8.profile"


class Determinism(Journey):
    def ride(self, *arguments, program=RELEASE, statuses=(0,)):
        """The journal and the lines of a ride, which becomes the newest in this home."""
        done = self.run_program("ride", PROFILE, "--jsonl", *arguments, program=program)
        self.assertIn(done.status, statuses, done.err)
        journal = self.journal(done.json()[0]["ride_id"])
        return journal, re.sub(r'"ride_id":\d+', '"ride_id":0', done.out)

    def test_same_seed(self):
        first = self.ride("--seed", 7, "--rate", 10000)
        for rate, program in ((10000, RELEASE), (500, RELEASE), (2000.5, RELEASE), (10000, ASAN)):
            again = self.ride("--seed", 7, "--rate", rate, program=program)
            self.assertEqual(again, first, f"at rate {rate} by {program.parent.name}")

    def test_other_seed(self):
        journals = {self.ride("--seed", seed, "--rate", 10000)[0]
                    for seed in (0, 1, 2, 3, 18446744073709551615)}
        self.assertEqual(len(journals), 5)

    def test_default_seed_is_1(self):
        self.assertEqual(self.ride("--rate", 10000), self.ride("--rate", 10000, "--seed", 1))

    def check_replay(self, journal, end):
        path = self.write("ride.journal", journal)
        events = len(re.findall("^> ", journal, re.M))
        effects = len(re.findall("^< ", journal, re.M))
        for program in (RELEASE, ASAN):
            done = self.run_program("replay", path, program=program)
            self.assert_ends(done, 0)
            self.assertEqual(done.out, f"{path}: {events} events, {effects} effects, "
                                       f"all as recorded; {end}\n")

    def test_every_machine_again(self):
        """Both builds ride the same, and their journals run again in both."""
        for machine in sorted(MACHINES.glob("*.machine")):
            with self.subTest(machine.stem):
                options = ("--machine", machine, "--rate", 10000)
                # 1: it did not confirm that its load is off.
                ours = self.ride(*options, statuses=(0, 1, 3))
                self.assertEqual(self.ride(*options, program=ASAN, statuses=(0, 1, 3)), ours)
                self.check_replay(ours[0], re.search(r'"end":"(\w+)"', ours[1])[1])

    def test_every_rider_again(self):
        for rider in sorted(RIDERS.glob("*.rider")):
            with self.subTest(rider.stem):
                journal, out = self.ride("--virtual-rider", rider, "--rate", 10000,
                                         statuses=(0, 3))
                self.check_replay(journal, re.search(r'"end":"(\w+)"', out)[1])

    def test_broken_off_journal(self):
        """Cut behind any line, a journal is still as recorded as far as it goes."""
        lines = self.ride("--rate", 10000)[0].splitlines(keepends=True)
        for count in (len(lines) // 3, len(lines) // 2, len(lines) * 9 // 10):
            path = self.write("part.journal", "".join(lines[:count]))
            done = self.run_program("replay", path)
            self.assert_ends(done, 0)
            self.assertRegex(done.out, r"all as recorded; it broke off in mid-ride\n$")

    def test_changed_number_in_an_effect(self):
        """The very line that was changed is told, with what it should be."""
        lines = self.ride("--rate", 10000)[0].splitlines(keepends=True)
        places = [i for i, line in enumerate(lines)
                  if re.match(r"< (command|sample|step|summary).*\d", line)]
        for at in (places[0], places[len(places) // 3], places[-2], places[-1]):
            changed = re.sub(r"(\d+)(?=\D*$)", lambda found: str(int(found[1]) + 1), lines[at])
            self.assertNotEqual(changed, lines[at])
            path = self.write("changed.journal", "".join([*lines[:at], changed, *lines[at + 1:]]))
            for program in (RELEASE, ASAN):
                done = self.run_program("replay", path, program=program)
                self.assert_ends(done, 1, rf"^afterset: {re.escape(str(path))}:{at + 1}: recorded "
                                          rf"'{re.escape(changed.rstrip())}', now "
                                          rf"'{re.escape(lines[at].rstrip())}'; another version ")
                self.assertEqual(done.out, "")

    def test_changed_number_in_an_event(self):
        """A reading that was not so makes other effects from its line on."""
        lines = self.ride("--rate", 10000)[0].splitlines(keepends=True)
        places = [i for i, line in enumerate(lines)
                  if line.startswith("> ") and "power_w=2" in line]
        at = places[len(places) // 2]
        changed = re.sub(r"power_w=\d+", "power_w=7", lines[at])
        path = self.write("changed.journal", "".join([*lines[:at], changed, *lines[at + 1:]]))
        done = self.run_program("replay", path)
        self.assert_ends(done, 1, rf"^afterset: {re.escape(str(path))}:{at + 2}: recorded '.*"
                                  "; another version of afterset rode it, or the file was changed; ")

    def test_hostile_journals(self):
        """Damage of any kind is one line, and never a crash."""
        journal = self.ride("--rate", 10000)[0].encode()
        damages = {
            "empty": b"", "binary": bytes(range(256)) * 9, "no head": journal[20:],
            "time goes back": journal.replace(b"> 60000 tick", b"> 100 tick"),
            "huge number": journal.replace(b"> 60000 tick", b"> 99999999999999999999999 tick"),
            "unknown kind": journal.replace(b"> 60000 tick", b"> 60000 tock"),
            "no steps": b"\n".join(line for line in journal.split(b"\n")
                                   if not line.startswith(b"step")),
            "zeros": journal.replace(b" ", b"\0", 400),
        }
        for name, damaged in damages.items():
            with self.subTest(name):
                done = self.run_program("replay", self.write("bad.journal", damaged), program=ASAN)
                self.assert_ends(done, 1, "bad.journal")
                self.assertEqual(done.out, "")


if __name__ == "__main__":
    main()
