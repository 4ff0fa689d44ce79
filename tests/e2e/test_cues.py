#!/usr/bin/env python3
"""What a ride lets be heard, measured in the file of its cues and on devices made of ALSA's own
plugins, against the edges of the steps in the lines of the same ride."""
# Takes minutes, most of them waiting.
import array
import os
import pathlib
import pty
import re
import subprocess
import sys
import time
import wave

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import (ASAN, DEADLINE_S, PROFILES, RELEASE, RIDERS, ROOT, Journey, await_condition,
                     is_kind, main, minds_being_late_by, on_machines, real_time, unwrapped)

PROFILE = ROOT / "profiles" / "20-10x8.profile"
ONSET_MS = 50  # later is heard as late (common practice)
RATE = 5  # at which that is 10 ms of the system's time
# name: pitch of the first note, length of the cue; README.md, "What is to be heard"
CUES = {"beat": (440, 100), "lower": (None, 260), "lift": (None, 300), "range": (220, 500),
        "knob-up": (262, 420), "knob-down": (523, 420),
        "mark": (659, 680), "count": (587, 120), "resumed": (370, 560), "ease": (None, 500),
        "work": (988, 700), "held": (494, 560), "end": (523, 1000), "caution": (740, 1160),
        "cut-off": (880, 1850)}


class Heard:
    """One stretch of sound: notes with less than 280 ms of silence between them."""

    def __init__(self, samples, rate, first, last):
        self.t_ms, self.length_ms = first * 1000 / rate, (last - first) * 1000 / rate
        self.pitch_hz = pitch(samples[first + rate // 50:first + rate // 10], rate)
        self.name = min(CUES, key=self.distance)
        if self.distance(self.name) > 0.1:
            raise AssertionError(f"unknown sound: {self.pitch_hz:.0f} Hz, {self.length_ms:.0f} ms")

    def distance(self, name):
        wanted_hz, wanted_ms = CUES[name]
        off = abs(self.length_ms / wanted_ms - 1)
        return off if wanted_hz is None else max(off, 3 * abs(self.pitch_hz / wanted_hz - 1))


def pitch(samples, rate):
    """By autocorrelation: the shift at which the wave is most like itself."""
    def likeness(shift):
        return sum(a * b for a, b in zip(samples, samples[shift:])) / (len(samples) - shift)
    shifts = range(rate // 1100, rate // 190)
    likenesses = [likeness(shift) for shift in shifts]
    best = max(likenesses)
    at = next(i for i, value in enumerate(likenesses) if value > 0.93 * best and
              value >= max(likenesses[max(0, i - 2):i + 3]))
    left, here, right = likenesses[at - 1], likenesses[at], likenesses[min(at + 1, len(shifts) - 1)]
    return rate / (shifts[at] + (left - right) / (2 * (left - 2 * here + right)))


def listen(samples, rate):
    heard, first, last = [], None, 0
    for i, sample in enumerate(samples):
        if abs(sample) < 100:
            continue
        if first is not None and i - last > rate * 0.28:
            heard.append(Heard(samples, rate, first, last))
            first = None
        first = i if first is None else first
        last = i
    if first is not None:
        heard.append(Heard(samples, rate, first, last))
    return heard


def listen_to_file(path):
    with wave.open(str(path)) as file:
        if (file.getnchannels(), file.getsampwidth()) != (1, 2):
            raise AssertionError(f"{path}: not one channel of 16 bits")
        samples = array.array("h", file.readframes(file.getnframes()))
        return listen(samples, file.getframerate())


@real_time
class Cues(Journey):
    def ride(self, *arguments, rate=10000, status=0, profile=PROFILE, program=RELEASE):
        path = self.home / "cues.wav"
        done = self.run_program("ride", profile, "--rate", rate, "--jsonl", "--cues-to", path,
                                *arguments, program=program)
        self.assert_ends(done, status)
        return done.json(), listen_to_file(path)

    def near(self, heard, name, t_ms):
        return [cue for cue in heard if cue.name == name and abs(cue.t_ms - t_ms) <= ONSET_MS]

    def assert_edges(self, lines, heard):
        """Every edge has its sound, within 50 ms, and nothing of that kind sounds elsewhere."""
        steps = [line for line in lines if line["event"] == "step"]
        works = [step["t_ms"] for i, step in enumerate(steps) if i == 0 or step["kind"] == "work"]
        eases = [step["t_ms"] for before, step in zip(steps, steps[1:])
                 if before["kind"] == "work" and step["kind"] != "work"]
        # A brake that is turned by hand is turned at the edge.
        turns = [line["t_ms"] + line["in_ms"] for line in lines
                 if line["event"] == "knob" and line["in_ms"] > 0]
        self.assertEqual(turns != [], self.machine == "no-control")
        counted = sorted({*works, *turns})
        self.assertGreater(len(works), 3)
        for name, times in (("work", works), ("ease", eases),
                            ("count", [t - ahead for t in counted for ahead in (3000, 2000, 1000)])):
            for t_ms in times:
                self.assertEqual(len(self.near(heard, name, t_ms)), 1, f"{name} at {t_ms}")
            self.assertEqual(sum(cue.name == name for cue in heard), len(times), name)

    def test_the_mark_is_passed(self):
        """Once, when all that the earlier block did is done, as soon as there is a gap."""
        # One number on a knob is so much, and a tenth of it turns none.
        change = 20 if self.machine == "no-control" else 10
        self.ride()
        lines, heard = self.ride("--beat", "work", "--load", f"+{change}")
        self.assert_edges(lines, heard)
        beaten = [line["t_ms"] for line in lines if line["event"] == "mark" and line["beaten"]]
        marks = [cue.t_ms for cue in heard if cue.name == "mark"]
        self.assertEqual(len(marks), 1)
        self.assertTrue(beaten[0] - 10000 <= marks[0] <= beaten[0], (beaten[0], marks))
        _, heard = self.ride("--beat", "work", "--load", f"-{change}")
        self.assertNotIn("mark", [cue.name for cue in heard])

    def test_every_profile(self):
        for profile in PROFILES if self.machine is None else PROFILES[:1]:
            with self.subTest(profile.stem):
                lines, heard = self.ride(profile=profile)
                self.assert_edges(lines, heard)
                over = [line["t_ms"] for line in lines
                        if line.get("phase") in ("leaving", "ended")]
                self.assertEqual(len(self.near(heard, "end", over[0])), 1)

    @minds_being_late_by(ONSET_MS / 1000 / RATE)
    def test_in_another_process_in_its_own_time(self):
        """Edges fall between ticks there, and the clock is the system's."""
        bike = f"unix:{self.home / 'bike'}"
        self.start_bike(self.home / "bike", "--rate", RATE)
        lines, heard = self.ride("--bike", bike, rate=RATE, profile=self.short)
        self.assert_edges(lines, heard)
        off_grid = [line for line in lines if line["event"] == "step" and line["t_ms"] % 250]
        self.assertTrue(off_grid, "no edge between two ticks: this proves nothing")

    def test_the_ride_is_the_same_with_and_without(self):
        def journal(*arguments):
            done = self.run_program("ride", PROFILE, "--rate", 10000, "--jsonl", *arguments)
            self.assert_ends(done, 0)
            return self.journal(done.json()[0]["ride_id"])
        self.assertEqual(journal(), journal("--cues-to", self.home / "cues.wav"))

    def test_cut_off(self):
        lines, heard = self.ride("--virtual-rider", RIDERS / "racing-heart.rider", status=3,
                                 profile=ROOT / "profiles" / "40-20x5.profile", program=ASAN)
        cut, = [line["t_ms"] for line in lines if line["event"] == "cut_off"]
        self.assertEqual(len(self.near(heard, "cut-off", cut)), 1)
        self.assertEqual([cue.name for cue in heard if cue.t_ms > cut + ONSET_MS], [])
        self.assertIn("caution", [cue.name for cue in heard])

    def test_hold_and_resume(self):
        lines, heard = self.ride("--virtual-rider", RIDERS / "stops-pedalling.rider",
                                 profile=ROOT / "profiles" / "40-20x5.profile")
        held, resumed = [line["t_ms"] for line in lines if line["event"] == "hold"]
        self.assertEqual(len(self.near(heard, "held", held)), 1)
        self.assertEqual(len(self.near(heard, "resumed", resumed)), 1)
        self.assertEqual([cue.name for cue in heard if held + ONSET_MS < cue.t_ms < resumed - ONSET_MS],
                         [])

    def test_weak_rider_is_told(self):
        lines, heard = self.ride("--virtual-rider", RIDERS / "weak.rider")
        self.assertGreater(sum(cue.name == "range" for cue in heard), 3)
        steps = [line for line in lines if line["event"] == "step"]
        for cue in heard:
            if cue.name == "range":
                step = [step for step in steps if step["t_ms"] <= cue.t_ms][-1]
                self.assertEqual(step["kind"], "work")
                self.assertGreater(cue.t_ms - step["t_ms"], 3000)

    # ---- the command ----

    def test_each_once(self):
        path = self.home / "all.wav"
        done = self.run_program("cues", "--cues-to", path, program=ASAN)
        self.assert_ends(done, 0)
        self.assertEqual([line.split()[0] for line in done.out.splitlines()], list(CUES))
        self.assertEqual([cue.name for cue in listen_to_file(path)], list(CUES))

    def test_wrong_use(self):
        for arguments, why in ((("--volume", "101"), "--volume wants a whole number from 0 to 100"),
                               (("--volume", "loud"), "--volume wants"), (("--volume",), "needs a value"),
                               (("--cues-to",), "needs a value")):
            self.assert_ends(self.run_program("ride", PROFILE, *arguments), 2, why)
            self.assert_ends(self.run_program("cues", *arguments), 2, why)
        self.assert_ends(self.run_program("cues", "loud"), 2, "one too many")
        for command in (("cues",), ("ride", PROFILE, "--rate", 10000)):
            done = self.run_program(*command, "--cues-to", self.home / "no" / "cues.wav")
            self.assert_ends(done, 1, "--cues-to .*: it cannot be written: No such file")

    def test_full_disk(self):
        """The ride goes on and the rider is told once."""
        done = self.run_program("ride", PROFILE, "--rate", 10000, "--jsonl", "--unrecorded",
                                "--cues-to", self.home / "cues.wav", limit_file_octets=200000)
        self.assert_ends(done, 0, "--cues-to .*: it cannot be written: File too large")
        self.assertEqual(done.json()[-1]["reason"], "plan_done")

    # ---- aloud ----

    def use_file_device(self):
        path = self.home / "device.raw"
        self.use_device("pcm.nowhere { type null }\n"
                        f'pcm.!default {{ type file slave.pcm nowhere file "{path}" format raw }}\n')
        return path

    def test_on_a_device(self):
        """Every cue of a ride reaches the device, in the same order as the file of cues."""
        device = self.use_file_device()
        _, heard = self.ride("--volume", 100, profile=self.short, program=ASAN)
        samples = array.array("h", device.read_bytes())
        played = []
        # The device has no silence between two cues but the 60 ms behind each.
        for cue in heard:
            length = round((CUES[cue.name][1] + 60) * 48)
            played.append(pitch(samples[1000:4800], 48000))
            self.assertAlmostEqual(played[-1] / cue.pitch_hz, 1, delta=0.04)
            samples = samples[length:]
        self.assertEqual(len(samples), 0)

    def test_ready_says_what_works(self):
        self.use_file_device()
        self.assertRegex(self.run_program("ready").out, r"(?m)^ok +sound ")
        self.use_device("")
        ready = re.sub(r"\n +", " ", self.run_program("ready").out)  # in whole sentences
        self.assertRegex(ready, r"to do +sound +there is no sound device; .*bell")

    def on_terminal(self, *arguments, seconds=None):
        """What a program with its output on a terminal prints there, and on stderr."""
        master, slave = pty.openpty()
        process = subprocess.Popen([str(RELEASE), *map(str, arguments)], env=self.env,
                                   stdin=subprocess.DEVNULL, stdout=slave, stderr=subprocess.PIPE)
        self.addCleanup(process.stderr.close)
        os.close(slave)
        out, give_up = b"", time.monotonic() + (seconds or DEADLINE_S)
        while time.monotonic() < give_up:
            try:
                part = os.read(master, 4096)
            except OSError:  # the other end is closed
                break
            out += part
        os.close(master)
        if process.poll() is None:
            process.terminate()
        process.wait(DEADLINE_S)
        return out, process.stderr.read().decode()

    def test_bell_where_there_is_no_device(self):
        self.use_device("")
        out, err = self.on_terminal("ride", self.short, "--volume", 50, "--rate", 20, "--plain")
        self.assertRegex(unwrapped(err), r"^afterset: no sound: there is no sound device; the bell of the "
                              r"terminal is used instead\n$")
        self.assertGreater(out.count(b"\a"), 15)

    def test_silent_unless_somebody_listens(self):
        """Neither into a pipe nor faster than real time is a device even opened."""
        device = self.use_file_device()
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000), 0)
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000, "--jsonl"), 0)
        out, err = self.on_terminal("ride", self.short, "--rate", 20)
        self.assertEqual((out.count(b"\a"), err), (0, ""))
        self.assertFalse(device.exists())

    def test_mute(self):
        device = self.use_file_device()
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000, "--volume", 90,
                                          "--mute"), 0)
        self.assertEqual(device.stat().st_size, 0)

    def test_mute_says_nothing_of_a_device(self):
        self.use_device("")
        out, err = self.on_terminal("ride", self.short, "--volume", 50, "--mute", "--rate", 20, "--plain")
        self.assertEqual((out.count(b"\a"), err), (0, ""))

    def test_key_mutes(self):
        """From the key on nothing reaches the device; the ride and its file of cues go on."""
        device, path = self.use_file_device(), self.home / "cues.wav"
        master, slave = pty.openpty()
        self.addCleanup(os.close, master)
        ride = self.start_program("ride", self.short, "--jsonl", "--volume", 100, "--rate", 50,
                                  "--cues-to", path, terminal=slave)
        ride.wait_for(is_kind("step"))
        os.write(master, b"m")
        self.assert_ends(ride.finish(), 0)
        os.close(slave)
        heard_ms = device.stat().st_size / 96
        self.assertLess(heard_ms, 3 * 180 + 760 + 2 * 560)  # two more while the key was on its way
        self.assertGreater(len(listen_to_file(path)), 15)

    def test_in_real_time(self):
        """The long tone is with the device within 50 ms of the line of its step.

        The plugin keeps the last cue until more comes; the long tone is more than it can keep.
        """
        device = self.use_file_device()
        ride = self.start_program("ride", self.short, "--jsonl", "--volume", 100)
        counts = 3 * (CUES["count"][1] + 60) * 48 * 2
        ride.wait_for(is_kind("step"))
        began = time.monotonic()
        await_condition(lambda: device.stat().st_size > counts, "the long tone")
        self.assertLess(time.monotonic() - began, ONSET_MS / 1000)

globals().update(on_machines(Cues, "test_every_profile"))


if __name__ == "__main__":
    main()
