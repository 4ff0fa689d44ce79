#!/usr/bin/env python3
"""A trainer through a receiver on USB is the bike of the ride, a strap beside it on the same one.

What it was told is taken from the trainer's own log.
"""
# Takes minutes, most of them waiting.
import pathlib
import signal
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import receiver
from journey import ASAN, Journey, await_condition, is_kind, main, real_time
from sums import check_lines
from trainer import REJECTED, RESISTANCE, TAKES_RESISTANCE, Trainer

# An answer is waited for 3 s of the ride's time.
RATE = 8
KEY = bytes.fromhex("00C0FFEEC0FFEE99")  # invented
STRAP, BIKE = 4711, 815
MOST_W = 220  # of the short profile
RELEASED = (RESISTANCE, 0)


def kinds(lines, kind):
    return [line for line in lines if line["event"] == kind]


@real_time
class UsbBike(Journey):
    def setUp(self):
        super().setUp()
        self.receiver_path = self.home / "receiver"
        self.settings_file.write_text(f"experienced yes\nusb-network-key {KEY.hex()}\n")
        self.at = f"@{self.receiver_path}"
        self.bike = Trainer(BIKE)
        self.strap = receiver.strap(STRAP, 141)

    def plug(self, *sensors):
        device = receiver.Receiver(self.receiver_path, KEY, sensors or (self.bike, self.strap), RATE)
        self.addCleanup(device.finish)
        return device

    def start_ride(self, *arguments, **more):
        return self.start_program("ride", self.short, "--jsonl", "--cautions-read", "--rate", RATE,
                                  "--bike", f"usb{self.at}", "--strap", f"usb{self.at}",
                                  *arguments, **more)

    def in_work(self, ride, least_w=150):
        return ride.wait_for(lambda event: event["event"] == "telemetry" and event["power_w"]
                             and event["power_w"] > least_w, "the first work")

    def check_told(self):
        """Nothing over the targets, and let go at last."""
        self.assertLessEqual(max(self.bike.targets_w()), MOST_W)
        self.assertEqual(self.bike.log[-1][2:], RELEASED)
        self.assertTrue(self.bike.is_released())

    def test_whole_profile_with_strap(self):
        device = self.plug()
        ride = self.start_ride(program=ASAN)
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        summary = lines[-1]
        self.assertEqual(summary["reason"], "plan_done")
        self.assertEqual(kinds(lines, "hold"), [])
        told = [line for line in kinds(lines, "telemetry") if line["t_ms"] > 20000]
        self.assertEqual({line["heart_bpm"] for line in told}, {141})
        self.assertEqual({line["cadence_rpm"] for line in told}, {85})
        self.assertGreater(max(line["power_w"] for line in told), 200)
        self.check_told()
        self.assertEqual(device.links, 1)
        self.assertEqual(sorted(device.asked), [(0, 0, 120), (3, 0, 17)])
        # Each load of the ride was said to it, in that order, the release at the beginning as well.
        loads = [line for line in kinds(lines, "load")]
        self.assertEqual(len([line for line in loads if line["kind"] == "level"]), 0)
        self.assertEqual(self.bike.log[0][2:], RELEASED)

    def test_says_which_one_it_was(self):
        self.plug(self.bike)
        done = self.run_program("ride", self.short, "--plain", "--unrecorded", "--cautions-read",
                                "--rate", RATE, "--bike", f"usb{self.at}")
        self.assert_ends(done, 0)
        self.assertIn(f"That bike was number {BIKE}: '--bike usb:{BIKE}' takes no other.",
                      done.lines)

    def test_levels(self):
        """Its power is held by levels, in per cent; the learned brake is for the next ride."""
        self.bike = Trainer(BIKE, modes=TAKES_RESISTANCE)
        self.plug()
        done = self.start_ride().finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual({page for _, _, page, _ in self.bike.log}, {RESISTANCE})
        self.assertEqual(self.bike.log[-1][2:], RELEASED)
        loads = {line["kind"] for line in kinds(lines, "load")}
        self.assertEqual(loads, {"level", "released"})
        works = [line["power_w"] for line in kinds(lines, "telemetry") if line["t_ms"] > 100000]
        self.assertGreater(max(works), 150)
        self.assertLess(max(works), 300)

    def test_takes_nothing(self):
        self.bike.tells_modes = False
        self.plug()
        ride = self.start_ride()
        ride.wait_for(is_kind("caution", caution="no_control"), "the caution")
        ride.wait_for(lambda event: event["t_ms"] > 30000, "half a minute")
        self.leave(ride)
        self.assertEqual(self.bike.log, [])

    def test_tells_no_status(self):
        """That it has acknowledged a load counts, then."""
        self.bike.answers = False
        self.plug()
        ride = self.start_ride()
        self.in_work(ride, 190)
        lines = self.leave(ride)
        self.assertEqual(kinds(lines, "cut_off"), [])
        self.check_told()

    def test_refuses(self):
        self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        self.bike.refuses = REJECTED
        cut = ride.wait_for(is_kind("cut_off"), "the cut-off")
        self.assertEqual(cut["reason"], "refused")
        self.bike.refuses = None
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assertEqual(done.status, 3, done.err)
        check_lines(self, done.json())
        self.check_told()

    def test_acknowledges_nothing(self):
        """It does not hear what it is told any more: said again once after 3 s, then a fault."""
        self.plug()
        ride = self.start_ride()
        self.in_work(ride, 190)
        self.bike.is_deaf = True
        cut = ride.wait_for(is_kind("cut_off"), "the cut-off")
        self.assertEqual(cut["reason"], "unanswered")
        self.assertFalse(self.bike.is_released())
        self.bike.is_deaf = False
        ride.wait_for(lambda event: event["t_ms"] > cut["t_ms"] + 2000, "2 s more")
        self.assertTrue(self.bike.is_released())
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assertEqual(done.status, 3, done.err)
        self.check_told()

    def test_stops_measuring(self):
        """Other pages go on coming, so the link stands; the readings are too old for a load."""
        self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        self.bike.measures = False
        held = ride.wait_for(is_kind("hold"), "the hold")
        self.assertEqual(held["reason"], "no_data")
        await_condition(self.bike.is_released, "the release")
        self.bike.measures = True
        ride.wait_for(is_kind("hold", on=False), "going on")
        self.in_work(ride)
        self.leave(ride)
        self.check_told()

    def test_heart_over_the_limit(self):
        self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        self.strap.page = receiver.strap(STRAP, 200).page
        cut = ride.wait_for(is_kind("cut_off"), "the cut-off")
        self.assertEqual(cut["reason"], "heart")
        ride.wait_for(lambda event: event["t_ms"] > cut["t_ms"] + 1500, "1.5 s more")
        self.assertTrue(self.bike.is_released())
        ride.signal(signal.SIGTERM)
        self.assertEqual(ride.finish().status, 3)
        self.check_told()

    def test_falls_silent_and_comes_back(self):
        device = self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        self.bike.is_on = False
        held = ride.wait_for(is_kind("hold"), "the hold")
        self.assertEqual(held["reason"], "link")
        time.sleep(20 / RATE)  # longer than silence alone is borne, and than a search lasts
        told = len(self.bike.log)
        self.bike.is_on = True
        ride.wait_for(is_kind("hold", on=False), "going on")
        self.in_work(ride)
        lines = self.leave(ride)
        self.assertEqual(kinds(lines, "cut_off"), [])
        self.assertEqual(device.links, 1)
        self.assertEqual(self.bike.log[told][2:], RELEASED)
        self.check_told()

    def test_receiver_pulled_out_and_put_back(self):
        device = self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        device.unplug()
        held = ride.wait_for(is_kind("hold"), "the hold")
        self.assertEqual(held["reason"], "link")
        self.assertFalse(self.bike.is_released())  # nobody can tell it
        time.sleep(12 / RATE)
        told = len(self.bike.log)
        other = Trainer(BIKE + 1)
        again = self.plug(other, self.bike, self.strap)
        ride.wait_for(is_kind("hold", on=False), "going on")
        self.in_work(ride)
        lines = self.leave(ride)
        self.assertEqual(kinds(lines, "cut_off"), [])
        self.assertEqual(self.bike.log[told][2:], RELEASED)
        self.assertEqual(other.log, [])
        self.assertEqual(again.asked, [(0, STRAP, 120), (3, BIKE, 17)])
        self.check_told()

    def test_receiver_falls_mute(self):
        """Found out by asking within seconds, then called anew. What it is told meanwhile the trainer
        may hear: that is a release, said until the receiver is given up, and again after that."""
        device = self.plug()
        ride = self.start_ride()
        self.in_work(ride)
        told, last_w, device.is_mute = len(self.bike.log), self.bike.targets_w()[-1], True
        held = ride.wait_for(is_kind("hold"), "the hold")
        self.assertIn(held["reason"], ("link", "no_data"))
        ride.wait_for(is_kind("hold", on=False), "going on")
        self.in_work(ride)
        lines = self.leave(ride)
        self.assertEqual(kinds(lines, "cut_off"), [])
        self.assertEqual(device.links, 2)
        since = [(page, value) for _, _, page, value in self.bike.log[told:]]
        before_w = [value / 4 for _, value in since[:since.index((RESISTANCE, 0))]]
        self.assertTrue(all(load_w >= last_w for load_w in before_w), since)  # none of the next ramp
        self.check_told()

    def test_another_number_and_what_is_no_bike(self):
        treadmill = Trainer(BIKE + 1)
        treadmill.kind_of_equipment = 19
        self.plug(self.bike, treadmill)
        ride = "ride", self.short, "--unrecorded", "--cautions-read", "--rate", RATE, "--plain"
        done = self.run_program(*ride, "--bike", f"usb:{BIKE + 2}{self.at}")
        self.assert_ends(done, 1, "^afterset: the bike: the receiver on USB does not hear it; turn "
                                  "the pedals to wake it$")
        self.assertEqual(self.bike.log, [])

    def test_without_the_key_or_a_receiver(self):
        ride = "ride", self.short, "--unrecorded", "--cautions-read", "--bike", f"usb{self.at}"
        self.assert_ends(self.run_program(*ride), 1, "^afterset: --bike usb@.*: there is no such "
                                                     "socket")
        self.settings_file.write_text("experienced yes\n")
        self.assert_ends(self.run_program(*ride), 1, "^afterset: sensors on USB need the network")


if __name__ == "__main__":
    main()
