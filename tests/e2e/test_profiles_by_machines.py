#!/usr/bin/env python3
"""Four of the profiles that are shipped on every machine there is: how the ride ends, and its sums.
The others are ridden by riders, see test_riders."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import MACHINES, PROFILES, Journey, main
from sums import check_lines, check_stored, check_summary

DONE = ("done", "plan_done", 0)
RIDDEN = ("20-10x8", "30-15x8", "30-20-10x5", "40-20x5")
STDERR = {
    "swallowing": r"^afterset: the bike: the machine has stopped answering$",
    "drops-link": r"^afterset: the bike: the other side closed the connection; it did not confirm "
                  r"that its load is off, turn its resistance down by hand$",
    # Whoever has it brakes on.
    "control-lost": r"^afterset: the bike did not confirm that its load is off; turn its "
                    r"resistance down by hand$",
    # Release and stop go out together at the end, and one octet for both confirms neither.
    "terse": r"^afterset: the bike did not confirm that its load is off; turn its "
             r"resistance down by hand$",
}

# How each machine (see the files) makes a ride end: end, reason, exit status, and what must be
# among the cautions.
ENDS = {
    "bare": (*DONE, set()),
    "command-only": (*DONE, set()),
    "control-lost": ("cut_off", "control_lost", 3, {"keep_turning"}),
    "crowded": (*DONE, set()),
    "cut": (*DONE, {"no_heart"}),  # which stands behind the cut
    "deaf": (*DONE, set()),  # what it does not do shows in its power alone
    # 88 rpm are told as 176, and as 44: what the rider is told is what the bike tells.
    "double-cadence": ("cut_off", "cadence", 3, {"keep_turning"}),
    "half-cadence": ("stopped", "held_too_long", 0, set()),
    "drops-link": ("cut_off", "link_lost", 3, {"keep_turning"}),
    "featureless": (*DONE, {"no_control"}),
    "garbage": (*DONE, {"doubtful"}),
    "late": (*DONE, set()),
    "level": (*DONE, set()),  # the profiles ask for power, which is held by levels
    "moody": (*DONE, set()),
    "mute": ("cut_off", "unanswered", 3, set()),
    "needs-start": (*DONE, set()),
    "no-control": (*DONE, {"no_control"}),
    "no-start": (*DONE, set()),
    "pausing": (*DONE, set()),  # for 12 s: held after 3 s, cut off only 10 s later
    "power": (*DONE, set()),
    "powerless": (*DONE, {"no_power"}),
    "refusing": ("cut_off", "refused", 3, set()),
    "safety-key": ("cut_off", "safety_key", 3, {"keep_turning"}),
    "silent": ("cut_off", "no_data", 3, {"keep_turning"}),
    "split": (*DONE, set()),
    "stopped": ("stopped", "machine_stop", 0, {"keep_turning"}),
    "strap-lost": (*DONE, {"strap_lost"}),
    # The bike inside the program cannot be called again; test_two_processes has one that can.
    "swallowing": ("stopped", "no_machine", 1, set()),
    "swapped-ranges": (*DONE, set()),
    "terse": ("done", "plan_done", 1, set()),
    "twice": (*DONE, set()),
    "unmeasured": (*DONE, {"by_feel"}),  # its level is a matter of the rider's keys
    "zero-ranges": (*DONE, set()),
}
WITHOUT_LOADS = {"featureless", "no-control", "mute", "refusing", "swallowing"}
BEFORE_START = {"mute", "refusing", "swallowing"}  # the ride ends before its first step
# When the load is off for good. A link may come back for 60 s; readings for 10 s of the hold.
MOMENTS_MS = {"control-lost": 60000, "drops-link": 120000, "safety-key": 60000, "stopped": 60000,
              "silent": 103250}


class ProfilesByMachines(Journey):
    def test_the_table_is_complete(self):
        self.assertEqual({path.stem for path in MACHINES.glob("*.machine")}, set(ENDS))
        self.assertLessEqual(set(RIDDEN), {path.stem for path in PROFILES})

    def ride(self, machine, profile):
        done = self.run_program("ride", profile, "--machine", MACHINES / f"{machine}.machine",
                                "--rate", 10000, "--jsonl")
        self.assert_ends(done, ENDS[machine][2], STDERR.get(machine, ""))
        return done.json()

    def check_end(self, machine, lines):
        end, reason, _, cautions = ENDS[machine]
        summary = lines[-1]
        self.assertEqual((summary["end"], summary["reason"]), (end, reason))
        given = {line["caution"] for line in lines if line["event"] == "caution"}
        self.assertLessEqual(cautions, given)
        # On a loose strap the rest load leaves the heart calm; nothing else may warn.
        self.assertLessEqual(given - cautions, {"doubtful"} if machine == "garbage" else set())
        cuts = [line for line in lines if line["event"] == "cut_off"]
        self.assertEqual([cut["reason"] for cut in cuts], [reason] if end == "cut_off" else [])
        if machine in MOMENTS_MS:
            stopped = [line["t_ms"] for line in lines if line["event"] == "caution"
                       and line["caution"] == "keep_turning"]
            self.assertAlmostEqual(stopped[0], MOMENTS_MS[machine], delta=250)

    def check_holds(self, machine, lines):
        """What is held before it is cut off, and what is not."""
        holds = [line["reason"] for line in lines if line["event"] == "hold" and line["on"]]
        held = {"drops-link": ["link"], "silent": ["no_data"], "pausing": ["no_data"]}
        if machine == "half-cadence":  # some legs go on once more
            self.assertEqual(set(holds), {"cadence"})
            return
        self.assertEqual(holds, held.get(machine, []))

    def check_course(self, machine, lines):
        loads = [line["kind"] for line in lines if line["event"] == "load"]
        steps = [line["index"] for line in lines if line["event"] == "step"]
        samples = sum(line["event"] == "telemetry" for line in lines)
        kind = "level" if machine in ("level", "unmeasured") else "power"
        self.assertEqual(kind in loads, machine not in WITHOUT_LOADS)
        if machine in ("no-control", "featureless"):
            self.assertEqual(loads, [])
        elif ENDS[machine][0] == "done":
            self.assertEqual(loads[-1], "released")
        self.assertEqual(steps, list(range(len(steps))))
        if machine in BEFORE_START:
            self.assertEqual((steps, samples), ([], 0))
        elif ENDS[machine][0] == "done":
            self.assertEqual(len(steps), lines[0]["steps"])
            self.assertEqual(lines[-1]["duration_s"], lines[0]["planned_s"])
            # Four a second, also where a record comes in two parts.
            lost = 0.1 if machine == "garbage" else 0.01
            self.assertAlmostEqual(samples / (4 * lines[0]["planned_s"]), 1, delta=lost)

    def check_strap(self, lines):
        """Work at the load of a rest, from the second that the strap counts as lost."""
        lost = next(line["t_ms"] for line in lines if line["event"] == "caution")
        rest_w = max(line["power_high_w"] for line in lines
                     if line["event"] == "step" and line["kind"] == "rest")
        loads = [line["power_w"] for line in lines
                 if line["event"] == "load" and line["t_ms"] > lost and line["kind"] == "power"]
        self.assertLessEqual(max(loads), rest_w)


def one(machine, profile):
    def test(self):
        lines = self.ride(machine, profile)
        check_lines(self, lines)
        self.check_end(machine, lines)
        self.check_holds(machine, lines)
        self.check_course(machine, lines)
        check_summary(self, lines)
        check_stored(self, self.show(1), lines[-1])
        if machine == "strap-lost" and "30-20-10" not in profile.name:
            self.check_strap(lines)

    return test


for machine_name in ENDS:
    for profile_path in (path for path in PROFILES if path.stem in RIDDEN):
        name = f"test_{machine_name}_{profile_path.stem}".replace("-", "_")
        setattr(ProfilesByMachines, name, one(machine_name, profile_path))

if __name__ == "__main__":
    main()
