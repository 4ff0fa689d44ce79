#!/usr/bin/env python3
"""The ride in one process, bike and strap in others, over real sockets and in real time."""
# Takes minutes, most of them waiting.
import pathlib
import re
import signal
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from attributes import Client
from journey import (ASAN, MACHINES, ROOT, Journey, about, await_condition, is_kind, load_height,
                     main, on_machines, real_time)
from sums import Sums, check_lines, check_stored

RATE = 20
STOPPED_ANSWERING = r"^afterset: the bike: the machine has stopped answering \(trying again\)$"
UNCONFIRMED = "; it did not confirm that its load is off, turn its resistance down by hand"


def is_load(event):
    return event["event"] == "load" and event["kind"] in ("power", "level")


@real_time
class TwoProcesses(Journey):
    def setUp(self):
        super().setUp()
        self.bike_path = self.home / "bike"
        self.strap_path = self.home / "strap"

    def start_ride(self, *arguments, rate=RATE, **more):
        return self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{self.bike_path}",
                                  "--rate", rate, *arguments, **more)

    def wait_hard(self, ride):
        """Well into the work, with the load on the brake. Who turns a brake by hand in another
        process hears nothing of what is asked: there it is what he set before."""
        if self.machine == "no-control":
            self.wait_working(ride)
        else:
            ride.wait_for(lambda event: event["event"] == "telemetry" and event["power_w"] > 150)

    @property
    def unconfirmed(self):
        """Nothing was put on a brake that is turned by hand."""
        return "" if self.machine == "no-control" else UNCONFIRMED

    def end_at(self, ride, t_ms):
        ride.wait_for(lambda event: event["t_ms"] > t_ms, f"{t_ms} ms")
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual(lines[-1]["reason"], "left")
        return lines

    def end_bike(self, bike):
        bike.signal(signal.SIGTERM)
        self.assert_ends(bike.finish(), 0)

    def test_whole_profile(self):
        bike = self.start_bike(self.bike_path, "--rate", 40)
        done = self.run_program("ride", ROOT / "profiles" / "20-10x8.profile", "--jsonl", "--bike",
                                f"unix:{self.bike_path}", "--rate", 40)
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual(lines[0]["bike"], f"unix:{self.bike_path}")
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("done", "plan_done"))
        check_stored(self, self.show(1), lines[-1])
        # Real time is not in step with the samples, so sums agree but for a sample.
        sums = Sums(lines)
        self.assertAlmostEqual(lines[-1]["work_j"], sums.work_j, delta=1)
        self.assertEqual(lines[-1]["average_power_w"], sums.average_power_w())
        self.assertAlmostEqual(lines[-1]["duration_s"], 480, delta=0.001)
        self.end_bike(bike)
        self.assertFalse(self.bike_path.exists(), "the socket is left behind")

    def test_journal_of_real_time(self):
        """Also a ride of two processes runs again as recorded."""
        self.start_bike(self.bike_path, "--rate", RATE)
        ride = self.start_ride()
        ride.wait_for(lambda event: event["t_ms"] > 20000)
        ride.signal(signal.SIGTERM)
        self.assert_ends(ride.finish(), 0)
        path = self.write("ride.journal", self.journal(1))
        for program in (None, ASAN):
            done = self.run_program("replay", path, **({"program": program} if program else {}))
            self.assert_ends(done, 0)
            self.assertRegex(done.out, "all as recorded; stopped\n$")

    def test_bike_is_taken(self):
        """Another home's ride on the same bike: refused, and the first does not notice."""
        bike = self.start_bike(self.bike_path, "--rate", RATE)
        first = self.start_ride()
        first.wait_for(is_kind("phase", phase="riding"))
        elsewhere = dict(self.env, XDG_DATA_HOME=str(self.home / "other"))
        done = self.run_program("ride", self.short, "--jsonl", "--bike", f"unix:{self.bike_path}",
                                "--rate", RATE, env=elsewhere)
        self.assert_ends(done, 1, "^afterset: the bike: it closed the connection; "
                                  "another ride may be on it$")
        lines = self.end_at(first, 40000)
        told = [line.get("caution", "hold") for line in lines
                if line["event"] in ("caution", "hold")]
        self.assertEqual(told, ["no_control"] if self.machine == "no-control" else [])
        self.end_bike(bike)

    def test_second_ride_in_the_same_home(self):
        first = self.start_program("ride", self.short, "--jsonl", "--rate", 1)
        first.wait_for(is_kind("phase", phase="ready"))
        done = self.run_program("ride", self.short, "--rate", 10000)
        self.assert_ends(done, 1, rf"^afterset: another ride is under way \(process {first.pid}\); "
                                  "end that one first$")
        self.assertEqual(done.out, "")
        unrecorded = self.run_program("ride", self.short, "--rate", 10000, "--unrecorded")
        self.assert_ends(unrecorded, 0)
        for command in (("log",), ("show", 1)):
            self.assert_ends(self.run_program(*command), 0)
        first.signal(signal.SIGTERM)
        self.assert_ends(first.finish(), 0)
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000), 0)

    def test_bike_killed(self):
        bike = self.start_bike(self.bike_path, "--rate", RATE)
        ride = self.start_ride()
        self.wait_hard(ride)
        bike.kill()
        done = ride.finish()
        self.assert_ends(done, 3, "^afterset: the bike: the other side closed the connection" +
                         self.unconfirmed + "$")
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual([line["reason"] for line in lines if line["event"] == "cut_off"],
                         ["link_lost"])
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("cut_off", "link_lost"))
        check_stored(self, self.show(1), lines[-1])
        self.check_stale_socket()

    def test_bike_comes_back(self):
        """Killed in work and started again: held, asked for anew, ramped from nothing, ridden on."""
        bike = self.start_bike(self.bike_path, "--rate", 10)
        ride = self.start_ride(rate=10)
        self.wait_hard(ride)
        bike.kill()
        held = ride.wait_for(is_kind("hold", on=True), "the hold")
        self.assertEqual(held["reason"], "link")
        bike = self.start_bike(self.bike_path, "--rate", 10)
        resumed = ride.wait_for(is_kind("hold", on=False), "the end of the hold")
        load = self.wait_working(ride) if self.machine == "no-control" else \
            ride.wait_for(is_load, "a load after it")
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual(lines[-1]["reason"], "plan_done")
        between = [line for line in lines if held["t_ms"] < line["t_ms"] < resumed["t_ms"]]
        self.assertFalse([line for line in between if line["event"] in ("telemetry", "step")])
        self.assertFalse([line for line in between if is_load(line)])
        before = [line for line in lines if is_load(line) and line["t_ms"] < held["t_ms"]]
        if self.machine != "no-control":
            most = 50 if self.machine is None else load_height(before[-1]) / 2
            self.assertLessEqual(load_height(load), most)
        check_stored(self, self.show(1), lines[-1])
        self.end_bike(bike)

    def check_stale_socket(self):
        """The killed bike's socket is in nobody's way."""
        self.assertTrue(self.bike_path.is_socket())
        done = self.run_program("ride", self.short, "--bike", f"unix:{self.bike_path}")
        self.assert_ends(done, 1, "nobody listens there any more; start it again$")
        bike = self.start_bike(self.bike_path, "--rate", RATE)
        ride = self.start_ride()
        self.wait_working(ride)  # on the new bike
        self.assert_one_listener()
        ride.signal(signal.SIGTERM)
        self.assert_ends(ride.finish(), 0)
        self.end_bike(bike)

    def assert_one_listener(self):
        done = self.run_program("virtual-bike", "--listen", f"unix:{self.bike_path}")
        self.assert_ends(done, 1, "somebody listens there already")

    def test_what_is_no_socket_is_left_alone(self):
        path = self.write("notes", "keep me\n")
        done = self.run_program("virtual-bike", "--listen", f"unix:{path}")
        self.assert_ends(done, 1, "cannot listen there: Address already in use; choose a new name")
        self.assertEqual(path.read_text(), "keep me\n")

    def test_bike_stopped(self):
        """A bike that hangs: cut off; the ride is not held up by it."""
        bike = self.start_bike(self.bike_path, "--rate", RATE)
        ride = self.start_ride()
        self.wait_hard(ride)
        bike.signal(signal.SIGSTOP)
        done = ride.finish()
        bike.signal(signal.SIGCONT)
        # Where nothing is asked of the bike no answer is missed, only its readings.
        self.assert_ends(done, 3, "" if self.machine == "no-control" else
                         "^afterset: the bike: the machine has stopped answering" + UNCONFIRMED + "$")
        lines = done.json()
        check_lines(self, lines)
        # Whichever comes first: a load without an answer, readings that are too old, or the
        # link that is given up after 4 s of silence under a request, and called in vain.
        self.assertIn(lines[-1]["reason"], ("no_data", "unanswered", "link_lost"))
        loads = [line["kind"] for line in lines if line["event"] == "load"]
        self.assertEqual(loads[-1:], [] if self.machine == "no-control" else ["released"])
        self.end_bike(bike)

    # ---- straps ----

    def heartless(self):
        """The machine of these journeys, without a heart rate of its own."""
        own = {"level": "control level\nlevel-range 0.0..20.0 step 0.5\n",
               "no-control": "control none\nknob 30 %\n"}.get(self.machine, "")
        return self.write("heartless.machine", "name Invented bike\nheart no\nstrap no\n" + own)

    def start_with_strap(self, **more):
        machine = self.heartless()
        self.start_bike(self.bike_path, "--rate", RATE, "--machine", machine)
        strap = self.start_bike(self.strap_path, "--rate", RATE, "--machine",
                                MACHINES / "power.machine")
        return strap, self.start_ride("--strap", f"unix:{self.strap_path}", **more)

    def test_no_strap(self):
        self.start_bike(self.bike_path, "--rate", RATE, "--machine", self.heartless())
        ride = self.start_ride()
        sample = ride.wait_for(is_kind("telemetry"))
        self.assertIsNone(sample["heart_bpm"])
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        cautions = {line["caution"] for line in done.json() if line["event"] == "caution"}
        self.assertEqual(cautions - {"no_control"}, {"no_heart"})

    def test_strap(self):
        _, ride = self.start_with_strap()
        lines = self.end_at(ride, 60000)
        self.assertEqual(lines[0]["strap"], f"unix:{self.strap_path}")
        self.assertEqual([line["caution"] for line in lines if line["event"] == "caution"],
                         ["no_control"] if self.machine == "no-control" else [])
        with_heart = [line["heart_bpm"] for line in lines if line["event"] == "telemetry"
                      and line["heart_bpm"] is not None]
        samples = sum(line["event"] == "telemetry" for line in lines)
        self.assertGreater(len(with_heart), 0.99 * samples)
        # The rider on the other bike sits still: a resting heart, 62 in the rider file.
        self.assertTrue(all(50 < heart < 110 for heart in with_heart))
        self.assertIsNotNone(lines[-1]["average_heart_bpm"])

    def test_strap_killed_in_work(self):
        strap, ride = self.start_with_strap()
        self.wait_hard(ride)
        killed = len(ride.text)
        strap.kill()
        caution = ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        ride.wait_for(lambda event: event["t_ms"] > caution["t_ms"] + 40000, "the next work")
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0, "^afterset: the strap: the other side closed the connection$")
        lines = done.json()
        check_lines(self, lines)
        # Within the 5 s after which a reading is old, and a second for the last one.
        self.assertLess(caution["t_ms"] - lines[killed]["t_ms"], 7000)
        self.check_rest_load(lines, caution)
        self.assertEqual((lines[-1]["reason"], [line for line in lines if line["event"] == "hold"]),
                         ("left", []))

    def check_rest_load(self, lines, caution):
        """From the caution on, nothing above the middle of the rest: 80 to 100 W. Nor is a hand
        told to turn a brake up, now or for the next step."""
        loads = [line for line in lines if line["event"] == "load"
                 and line["t_ms"] >= caution["t_ms"]]
        if self.machine == "no-control":
            turns = [line["turn"] for line in lines if line["event"] == "knob"
                     and line["t_ms"] >= caution["t_ms"]]
            self.assertIn("down", turns)
            self.assertNotIn("up", turns)
            return
        if self.machine == "level":
            before = [line["level"] or 0 for line in lines
                      if line["event"] == "load" and line["t_ms"] < caution["t_ms"]]
            self.assertEqual(loads[0]["t_ms"], caution["t_ms"])
            self.assertTrue(all((line["level"] or 0) < max(before) for line in loads))
            return
        self.assertEqual((loads[0]["t_ms"], loads[0]["power_w"]), (caution["t_ms"], 90))
        self.assertTrue(all((line["power_w"] or 0) <= 90 for line in loads))

    def test_strap_is_not_there(self):
        bike = self.start_bike(self.bike_path, "--rate", RATE)
        done = self.run_program("ride", self.short, "--bike", f"unix:{self.bike_path}", "--strap",
                                f"unix:{self.strap_path}")
        self.assert_ends(done, 1, r"^afterset: --strap unix:.*: there is no such socket")
        # The bike is free again.
        await_condition(lambda: self.is_free(), "the bike to be free")
        self.end_bike(bike)

    def is_free(self):
        try:
            client = Client(self.bike_path)
            client.exchange_mtu(100)
            client.close()
        except (ConnectionError, OSError):
            return False
        return True

    # ---- machines in a process of their own ----

    def test_a_subscription_that_is_never_answered(self):
        """Twice the link is given up for it, then it is left out."""
        bike = self.start_bike(self.bike_path, "--rate", RATE, "--machine",
                               MACHINES / "swallowing.machine")
        ride = self.start_ride("--cautions-read")
        ride.wait_for(is_kind("load", kind="power"), "a load")
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0, STOPPED_ANSWERING)
        self.assertFalse([line for line in done.json() if line["event"] == "hold"])
        self.end_bike(bike)

    def test_machines_apart(self):
        ends = {"safety-key": ("safety_key", 3), "stopped": ("machine_stop", 0),
                "mute": ("unanswered", 3), "refusing": ("refused", 3)}
        for machine, (reason, status) in ends.items():
            with about(machine):
                bike = self.start_bike(self.bike_path, "--rate", 40, "--machine",
                                       MACHINES / f"{machine}.machine")
                ride = self.start_ride(rate=40)
                if machine in ("safety-key", "stopped"):
                    ride.wait_for(is_kind("phase", phase="easy"))
                    ride.signal(signal.SIGTERM)
                done = ride.finish()
                self.assert_ends(done, status)
                lines = done.json()
                check_lines(self, lines)
                self.assertEqual(lines[-1]["reason"], reason)
                self.assertTrue(re.search(r'"load"|unanswered|refused', done.out))
                self.end_bike(bike)

globals().update(on_machines(TwoProcesses, "test_whole_profile", "test_journal_of_real_time",
                             "test_bike_is_taken", "test_bike_killed", "test_bike_comes_back",
                             "test_bike_stopped", "test_strap", "test_strap_killed_in_work"))


if __name__ == "__main__":
    main()
