#!/usr/bin/env python3
"""Power and cadence from sensors in processes of their own, beside the bike's."""
import pathlib
import signal
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import Journey, is_kind, main, real_time

RATE = 20
PEDALS = "name Invented pedals\npower-noise 0 %\nknob 30 %\n"
WEAK = "name Invented bike\ncontrol none\nknob 2 %\npower-noise 0 %\n"
POWERLESS = "name Invented bike\ncontrol none\nknob 30 %\npower no\n"


def powers(lines):
    return [line["power_w"] for line in lines if line["event"] == "telemetry"]


@real_time
class Sensors(Journey):
    def setUp(self):
        super().setUp()
        self.bike_path = self.home / "bike"
        self.sensor_path = self.home / "sensor"

    def start_sensor(self, kind, text):
        """On a bike of its own, with a knob that stands: about the same power all the time."""
        machine = self.write("pedals.machine", text)
        return self.start_bike(self.sensor_path, f"--{kind}-only", "--rate", RATE, "--machine",
                               machine)

    def start_ride(self, bike, *arguments):
        return self.start_ride_on(bike, RATE, *arguments)

    def test_bike_without_power(self):
        self.start_sensor("power", PEDALS)
        ride = self.start_ride(POWERLESS, "--power", f"unix:{self.sensor_path}")
        ride.wait_for(lambda event: event["t_ms"] > 60000, "a minute")
        lines = self.leave(ride)
        self.assertEqual(lines[0]["power_sensor"], f"unix:{self.sensor_path}")
        self.assertIsNone(lines[0]["cadence_sensor"])
        known = [power for power in powers(lines) if power]
        self.assertGreater(len(known), 0.9 * len(powers(lines)))
        self.assertGreater(lines[-1]["work_j"], 1000)
        cautions = {line["caution"] for line in lines if line["event"] == "caution"}
        lost = {"power_sensor_lost", "cadence_sensor_lost"}
        self.assertFalse(cautions & (lost | {"no_power"}), cautions)

    def test_bike_without_power_and_without_pedals(self):
        """What the journey above would be without its sensor."""
        ride = self.start_ride(POWERLESS)
        ride.wait_for(lambda event: event["t_ms"] > 30000, "half a minute")
        lines = self.leave(ride)
        self.assertEqual({power for power in powers(lines)}, {None})
        self.assertEqual(lines[-1]["work_j"], 0)

    def test_pedals_killed_and_back(self):
        pedals = self.start_sensor("power", PEDALS)
        ride = self.start_ride(WEAK, "--power", f"unix:{self.sensor_path}")
        high = ride.wait_for(lambda event: event["event"] == "telemetry"
                             and event["power_w"] is not None and event["power_w"] > 100
                             and event["t_ms"] > 20000)
        pedals.kill()
        caution = ride.wait_for(is_kind("caution", caution="power_sensor_lost"), "the caution")
        low = ride.wait_for(is_kind("telemetry"))
        self.assertLess(low["power_w"], high["power_w"] / 2)
        self.start_sensor("power", PEDALS)
        back = ride.wait_for(lambda event: event["event"] == "telemetry"
                             and event["t_ms"] > caution["t_ms"]
                             and event["power_w"] > 100, "the pedals again")
        lines = self.leave(ride)
        self.assertGreater(back["t_ms"], low["t_ms"])
        self.assertEqual([line for line in lines if line["event"] == "hold"], [])

    def ride_by_both(self, told_pct):
        """The same rider on the same knob, by pedals that tell so much of what the bike tells."""
        self.start_sensor("power", f"{PEDALS}power-told {told_pct} %\n")
        bike = self.write("bike.machine", PEDALS + "control none\n")
        self.start_bike(self.bike_path, "--rate", RATE, "--machine", bike)
        address, pedals = f"unix:{self.bike_path}", f"unix:{self.sensor_path}"
        ride = self.run_program("ride", self.short, "--jsonl", "--bike", address, "--rate", RATE,
                                "--power", pedals)
        self.assert_ends(ride, 0)
        lines = ride.json()
        cautions = [line for line in lines if line["event"] == "caution"
                    and line["caution"] == "two_powers"]
        return lines, cautions, pedals

    def test_two_powers_far_apart(self):
        lines, cautions, _ = self.ride_by_both(150)
        self.assertEqual(len(cautions), 1, cautions)
        self.assertEqual(cautions[0]["text"], "Watts far apart: the knob goes by the sensor, not "
                         "the bike. Calibrate.")
        self.assertAlmostEqual(lines[-1]["difference_tenths"], 500, delta=30)
        for command in (["show", "1"], ["report", "--ride", "1"]):
            done = self.run_program(*command)
            self.assert_ends(done, 0)
            self.assertIn("That is too far: ", done.out)
        self.assert_ends(self.run_program("replay", self.write("one.journal", self.journal(1))), 0)

    def test_two_powers(self):
        lines, cautions, pedals = self.ride_by_both(110)
        self.assertEqual(cautions, [])
        summary = lines[-1]
        self.assertGreaterEqual(summary["sensor_pct"], 95)
        self.assertAlmostEqual(summary["difference_tenths"], 100, delta=15)
        self.assertLess(0, summary["difference_error_tenths"])
        sources = [line for line in lines if line["event"] == "sources"]
        self.assertIsNone(sources[0]["difference_tenths"])
        self.assertAlmostEqual(sources[-1]["difference_tenths"], 100, delta=15)
        digits = 1 if summary["difference_error_tenths"] < 10 else 0
        told = f"{summary['difference_tenths'] / 10:.{digits}f} % above the bike"
        for command in (["show", "1"], ["report", "--ride", "1"]):
            done = self.run_program(*command)
            self.assert_ends(done, 0)
            self.assertIn(told, done.out)
            self.assertNotIn("too far", done.out)
        row = self.run_program("show", "1", "--jsonl").json()[0]
        self.assertEqual(row["power_sensor"], pedals)
        self.assert_ends(self.run_program("replay", self.write("one.journal", self.journal(1))), 0)
        home = dict(self.env, XDG_DATA_HOME=str(self.home / "other"))
        file = self.write("ride.json", self.run_program("export", "1", "--as", "json").out)
        self.assert_ends(self.run_program("import", file, env=home), 0)
        self.assertEqual(self.run_program("show", "1", "--jsonl", env=home).json()[0], row)
        for key in ("sensor_pct", "difference_tenths", "difference_error_tenths"):
            self.assertEqual(row[key], summary[key], key)

    def test_cadence(self):
        self.start_sensor("cadence", PEDALS)
        half = self.write("half.machine", "name Invented bike\ncadence-told 50 %\n")
        ride = self.start_ride(half.read_text(), "--cadence", f"unix:{self.sensor_path}")
        ride.wait_for(lambda event: event["t_ms"] > 40000, "40 s")
        lines = self.leave(ride)
        self.assertEqual(lines[0]["cadence_sensor"], f"unix:{self.sensor_path}")
        late = [line["cadence_rpm"] for line in lines if line["event"] == "telemetry"][40:]
        # The rider turns about 90 a minute on either bike, of which this one tells half.
        self.assertGreater(min(late), 60)
        told = [line for line in lines if line["event"] == "caution"
                and line["caution"] == "two_cadences"]
        self.assertEqual(len(told), 1, told)

    def test_not_what_it_is_taken_for(self):
        self.start_sensor("cadence", PEDALS)
        ride = self.start_ride(WEAK, "--power", f"unix:{self.sensor_path}")
        ride.wait_for(is_kind("telemetry"))
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assertEqual(done.status, 0)
        self.assertIn("the power sensor: this device measures no power", done.err)

    def test_sensor_is_not_there(self):
        ride = self.start_ride(WEAK, "--power", f"unix:{self.sensor_path}")
        self.assert_ends(ride.finish(), 1,
                         r"^afterset: --power unix:.*: there is no such socket")


if __name__ == "__main__":
    main()
