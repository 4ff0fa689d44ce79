#!/usr/bin/env python3
"""Both ends of the link against somebody else's code, and against nobody's sense."""
import pathlib
import random
import signal
import socket
import struct
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from attributes import (BIKE_DATA, CONTROL_POINT, FAILED, FEATURE, FITNESS_MACHINE, HEART_RATE,
                        INVALID_PARAMETER, MACHINE_STATUS, NOT_PERMITTED, OP_NOT_SUPPORTED,
                        POWER_RANGE, REQUEST_CONTROL, RESET, SET_POWER, START, STOP, SUCCESS,
                        Client, Machine, RefusedByPeer, bike_power_w)
from journey import ASAN, RELEASE, Journey, about, is_kind, main, real_time
from sums import check_lines, check_stored

RATE = 20
STOPPED_ANSWERING = r"^afterset: the bike: the machine has stopped answering \(trying again\)$"
NOT_READ = r"^afterset: the cautions before the first ride were not read yet; .*--cautions-read$"


@real_time
class ForeignMachine(Journey):
    """The client in the program against the attribute server of these tests."""

    def setUp(self):
        super().setUp()
        self.path = self.home / "bike"
        self.seed = random.randrange(1 << 32)
        self.random = random.Random(self.seed)
        self.assert_ends(self.run_program("rider", "critical-power", 200, "age", 30), 0)

    def offer(self, mischief=None, **more):
        if self.path.exists():
            self.path.unlink()
        listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        listener.bind(str(self.path))
        listener.listen()
        machine = Machine(listener, RATE, mischief, **more)
        machine.start()
        return machine

    def start_ride(self, *arguments, program=RELEASE):
        return self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{self.path}",
                                  "--rate", RATE, *arguments, program=program)

    def end(self, ride, machine, status, err=""):
        done = ride.finish()
        machine.finish()
        self.assert_ends(done, status, err)
        lines = done.json()
        check_lines(self, lines)
        return lines

    def leave_when(self, ride, wanted, what):
        ride.wait_for(wanted, what)
        ride.signal(signal.SIGTERM)

    def test_whole_ride(self):
        machine = self.offer()
        lines = self.end(self.start_ride("--cautions-read"), machine, 0)
        self.assertEqual(lines[-1]["reason"], "plan_done")
        cautions = [line["caution"] for line in lines if line["event"] == "caution"]
        self.assertEqual(cautions, ["no_heart"])
        check_stored(self, self.show(1), lines[-1])
        self.check_commands(machine)
        # Told is what was braked: the middle of the work is 210 W, that of the rest 90.
        told = {line["power_w"] for line in lines if line["event"] == "telemetry"}
        self.assertLessEqual({210, 90}, told)
        self.assertEqual({line["cadence_rpm"] for line in lines if line["event"] == "telemetry"},
                         {85})

    def check_commands(self, machine):
        opcodes = [value[0] for value in machine.commands]
        self.assertEqual(opcodes[:2], [REQUEST_CONTROL, START])
        self.assertEqual(machine.commands[-1], bytes([STOP, 1]))
        self.assertEqual(set(opcodes), {REQUEST_CONTROL, START, SET_POWER, STOP})
        loads = machine.loads_w()
        self.assertEqual((loads[0], loads[-1], max(loads)), (0, 0, 210))
        self.assertTrue(all(load % 5 == 0 for load in loads), "not on the machine's grid of 5 W")
        self.assertEqual(machine.subscribed, {machine.data: 1, machine.control: 2,
                                              machine.status: 1})
        self.assertGreaterEqual(machine.saw_mtu, 23)

    def test_smallest_mtu(self):
        machine = self.offer(mtu=23)
        ride = self.start_ride("--cautions-read")
        self.leave_when(ride, is_kind("load", kind="power"), "a load")
        self.end(ride, machine, 0)

    def test_cautions_are_remembered(self):
        machine = self.offer()
        done = self.start_ride().finish()
        machine.finish()
        self.assert_ends(done, 1, NOT_READ)
        self.assertEqual((done.out, machine.commands), ("", []))
        for options in (["--cautions-read"], []):
            machine = self.offer()
            ride = self.start_ride(*options)
            self.leave_when(ride, is_kind("phase", phase="riding"), "the start")
            self.end(ride, machine, 0)

    def ride_until(self, status_octets, ride_s=20):
        """A machine that tells a status once, in its own time."""
        told = []

        def mischief(machine, now_s):
            if now_s >= ride_s and not told:
                told.append(now_s)
                machine.notify(machine.status, status_octets)

        machine = self.offer(mischief)
        return machine, self.start_ride("--cautions-read")

    def check_cut_off(self, status_octets, reason):
        machine, ride = self.ride_until(status_octets)
        cut = ride.wait_for(is_kind("cut_off"), "the cut-off")
        self.assertEqual(cut["reason"], reason)
        ride.wait_for(is_kind("phase", phase="easy"), "riding out")
        ride.signal(signal.SIGTERM)
        lines = self.end(ride, machine, 3)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("cut_off", reason))
        return machine, lines

    def test_safety_key(self):
        machine, _ = self.check_cut_off(b"\x03", "safety_key")
        self.assertEqual(machine.power_w, 0)

    def test_control_lost(self):
        """Whoever took control has it: it is not asked for again."""
        machine, _ = self.check_cut_off(b"\xff", "control_lost")
        self.assertEqual([value[0] for value in machine.commands].count(REQUEST_CONTROL), 1)

    def test_stopped_at_the_console(self):
        machine, ride = self.ride_until(b"\x02\x01")
        self.leave_when(ride, is_kind("phase", phase="easy"), "riding out")
        lines = self.end(ride, machine, 0)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("stopped", "machine_stop"))

    def test_paused_at_the_console(self):
        machine, ride = self.ride_until(b"\x02\x02")
        ride.wait_for(is_kind("load", kind="released"), "the release")
        hold = ride.wait_for(is_kind("hold", on=True), "the hold")
        self.assertEqual(hold["reason"], "paused")
        ride.signal(signal.SIGTERM)
        self.end(ride, machine, 0)

    def test_link_closed(self):
        def mischief(machine, now_s):
            if now_s >= 15:
                raise ConnectionResetError

        machine = self.offer(mischief)
        lines = self.end(self.start_ride("--cautions-read"), machine, 3,
                         "^afterset: the bike: the other side closed the connection; it did not "
                         "confirm that its load is off, turn its resistance down by hand$")
        self.assertEqual(lines[-1]["reason"], "link_lost")

    def is_lost_once(self, ride_s=20):
        """Mischief: at the first meeting the machine hangs up in the middle of the work."""
        def mischief(machine, now_s):
            if len(machine.met) == 1 and now_s >= ride_s:
                machine.hang_up()
        return mischief

    def ride_and_lose(self, machine):
        """Until the load is back, and what was said up to there is gone."""
        ride = self.start_ride("--cautions-read", program=ASAN)
        ride.wait_for(is_kind("load", kind="power"), "a load")
        lost = ride.wait_for(is_kind("hold", on=True, reason="link"), "the loss")
        back = ride.wait_for(is_kind("hold", on=False), "the return")
        self.leave_when(ride, is_kind("load", kind="power"), "a load once more")
        return ride, (back["t_ms"] - lost["t_ms"]) / 1000

    def test_back_but_mute(self):
        """A kernel goes on advertising for a program that was killed: the link is taken, and
        nobody speaks. Twice that; then the machine is back."""
        machine = self.offer(self.is_lost_once(), meetings=("serve", "mute", "mute", "serve"))
        ride, away_s = self.ride_and_lose(machine)
        self.end(ride, machine, 0)
        self.assertEqual(machine.met, ["serve", "mute", "mute", "serve"])
        self.assertGreaterEqual(away_s, 8)  # of silence, 4 s each
        self.assertLess(away_s, 30)
        self.assertEqual(machine.loads_w()[-1], 0)

    def test_mute_before_it_was_ever_ready(self):
        """The same before the ride: it waits, calls again, and is ridden as if nothing had been."""
        machine = self.offer(meetings=("mute", "mute", "serve"))
        ride = self.start_ride("--cautions-read", program=ASAN)
        ready = ride.wait_for(is_kind("phase", phase="ready"), "ready")
        self.leave_when(ride, is_kind("load", kind="power"), "a load")
        self.end(ride, machine, 0, STOPPED_ANSWERING)
        self.assertEqual(machine.met, ["mute", "mute", "serve"])
        self.assertGreaterEqual(ready["t_ms"], 18000)  # of silence, 6 s each; pauses of 3 s
        self.assertLess(ready["t_ms"], 30000)

    def test_handles_move_in_mid_ride(self):
        """It says so, and nothing is written to where things were."""
        told = []

        def mischief(machine, now_s):
            if now_s >= 20 and not told:
                told.append(len(machine.commands))
                machine.hash = bytes(range(16, 32))
                machine.fill(batteries=3)
                machine.tell_change()

        machine = self.offer(mischief, meetings=("serve", "serve"), hash=bytes(range(16)))
        ride, _ = self.ride_and_lose(machine)
        self.end(ride, machine, 0)
        self.assertEqual([value[0] for value in machine.commands[told[0]:]][:1], [REQUEST_CONTROL])
        self.assertEqual(machine.hash_reads, 3)  # met, in doubt, met again
        self.assertEqual(machine.refused, [])

    def test_told_of_a_change_that_is_none(self):
        told = []

        def mischief(machine, now_s):
            if now_s >= 20 and not told:
                told.append(now_s)
                machine.tell_change()

        machine = self.offer(mischief, hash=bytes(range(16)))
        lines = self.end(self.start_ride("--cautions-read", program=ASAN), machine, 0)
        self.assertEqual(lines[-1]["reason"], "plan_done")
        self.assertFalse([line for line in lines if line["event"] == "hold"])
        self.assertEqual((machine.hash_reads, told[:1] != []), (2, True))

    def test_legs_give_way(self):
        """Cadence below the floor under load: the load is gone within some 2 s, and comes back."""
        def mischief(machine, now_s):
            machine.cadence_rpm = 30 if 20 <= now_s < 26 else 80

        machine = self.offer(mischief)
        ride = self.start_ride("--cautions-read")
        hold = ride.wait_for(is_kind("hold", on=True), "the hold")
        self.assertEqual(hold["reason"], "cadence")
        ride.wait_for(is_kind("hold", on=False), "the end of the hold")
        self.leave_when(ride, is_kind("load", kind="power"), "the load again")
        self.end(ride, machine, 0)

    # ---- nonsense ----

    def nonsense(self, machine, share=0.7):
        """Now and then a packet of chance: any opcode but those that answer or end something."""
        if self.random.random() > share:
            return
        length = self.random.choice((1, 2, 3, 5, 9, 20, 23, 64, 247, 517, 600, 2048, 4000))
        pdu = bytearray(self.random.randbytes(self.random.randrange(1, length + 1)))
        if self.random.random() < 0.5:  # aimed at what is listened to
            handle = self.random.choice((machine.data, machine.control, machine.status, 9, 0xFFFF))
            pdu[:3] = struct.pack("<BH", self.random.choice((0x1B, 0x1D)), handle)
            if handle == machine.status:  # a true "control lost" is not nonsense
                pdu[3:4] = b"\x70"
        else:
            pdu[0] &= 0xFE
        machine.send(bytes(pdu))

    def test_nonsense_in_between(self):
        """A ride in the midst of it: it may be cut off, but it ends as rides end."""
        with about(f"seed {self.seed}"):
            machine = self.offer(lambda machine, _: self.nonsense(machine))
            ride = self.start_ride("--cautions-read", program=ASAN)
            ride.wait_for(lambda event: event["event"] == "summary" or event["t_ms"] > 90000)
            if '"summary"' not in ride.text[-1]:
                ride.signal(signal.SIGTERM)
            done = ride.finish()
            machine.finish()
            self.assertIn(done.status, (0, 1, 3), done.err)
            if done.err:
                self.assert_one_line(done.err)
            check_lines(self, done.json())
            check_lines(self, done.json())

    def test_nothing_but_nonsense(self):
        """Every length there is, answers included, from the first packet on."""
        with about(f"seed {self.seed}"):
            for start in range(0, 600, 60):
                lengths = [*range(start + 1, start + 61), 2047, 2048, 2049, 8000]
                machine = self.offer(babble=[self.random.randbytes(length) for length in lengths])
                done = self.start_ride("--cautions-read", program=ASAN).finish()
                machine.finish()
                self.assertIn(done.status, (1, 3), done.err)
                self.assert_one_line(done.err)
                check_lines(self, done.json())


@real_time
class ForeignClient(Journey):
    """The program's virtual bike against a client that knows only the specification."""

    def setUp(self):
        super().setUp()
        self.path = self.home / "bike"
        self.bike = self.start_bike(self.path, "--rate", RATE, program=ASAN)
        self.seed = random.randrange(1 << 32)
        self.random = random.Random(self.seed)

    def tearDown(self):
        """Whatever was sent to it, the bike lives, and a sanitizer has nothing to say."""
        self.bike.signal(signal.SIGTERM)
        self.assert_ends(self.bike.finish(), 0)

    def connect(self):
        client = Client(self.path)
        self.addCleanup(client.close)
        return client

    def discover(self, client):
        services = client.services()
        return client.characteristics(*services[FITNESS_MACHINE])

    def take_control(self, client):
        found = self.discover(client)
        point = found[CONTROL_POINT][0]
        client.subscribe(point, 2)
        return found, point

    def test_discovery(self):
        client = self.connect()
        self.assertEqual(client.exchange_mtu(185), 247)
        services = client.services()
        self.assertLessEqual({0x1800, 0x1801, 0x180A, FITNESS_MACHINE, HEART_RATE}, set(services))
        found = client.characteristics(*services[FITNESS_MACHINE])
        # Fitness Machine Service 1.0.1, table 4.1: notify, write with indicate, read.
        self.assertEqual(found[BIKE_DATA][1], 0x10)
        self.assertEqual(found[CONTROL_POINT][1], 0x28)
        self.assertEqual(found[MACHINE_STATUS][1], 0x10)
        self.assertEqual(found[FEATURE][1], 0x02)
        feature, target = struct.unpack("<II", client.read(found[FEATURE][0]))
        self.assertTrue(feature & 1 << 14, "power measurement")
        self.assertTrue(target & 1 << 3, "power target")
        self.assertEqual(struct.unpack("<hhH", client.read(found[POWER_RANGE][0])), (0, 600, 1))
        with self.assertRaises(RefusedByPeer):
            client.read(0xFFFF)

    def test_nothing_without_asking_for_control(self):
        client = self.connect()
        _, point = self.take_control(client)
        for command in ((SET_POWER, 100, 0), (START,), (STOP, 1), (RESET,)):
            self.assertEqual(client.command(point, *command), NOT_PERMITTED, command)
        self.assertEqual(client.command(point, REQUEST_CONTROL), SUCCESS)
        self.assertEqual(client.command(point, SET_POWER, 100, 0), SUCCESS)

    def test_nothing_without_subscribing(self):
        client = self.connect()
        point = self.discover(client)[CONTROL_POINT][0]
        with self.assertRaises(RefusedByPeer) as refusal:
            client.write(point, bytes([REQUEST_CONTROL]))
        self.assertEqual(refusal.exception.code, 0xFD)  # improperly configured

    def test_procedures(self):
        client = self.connect()
        found, point = self.take_control(client)
        status = found[MACHINE_STATUS][0]
        client.subscribe(status, 1)
        self.assertEqual(client.command(point, REQUEST_CONTROL), SUCCESS)
        self.assertEqual(client.command(point, SET_POWER, *struct.pack("<h", 150)), SUCCESS)
        self.assertEqual(client.wait_told(status), struct.pack("<Bh", 0x08, 150))
        for power_w in (601, 32767, -1, -32768):
            self.assertEqual(client.command(point, SET_POWER, *struct.pack("<h", power_w)),
                             INVALID_PARAMETER, power_w)
        for short in ((SET_POWER,), (SET_POWER, 100), (STOP,), (STOP, 3)):
            self.assertEqual(client.command(point, *short), INVALID_PARAMETER, short)
        self.assertEqual(client.command(point, START), SUCCESS)
        self.assertEqual(client.command(point, START), FAILED, "started already")
        self.assertEqual(client.command(point, 0x60), OP_NOT_SUPPORTED)
        self.assertEqual(client.command(point, STOP, 1), SUCCESS)
        self.assertEqual(client.command(point, RESET), SUCCESS)
        self.assertEqual(client.command(point, SET_POWER, 100, 0), NOT_PERMITTED, "after a reset")

    def test_it_brakes(self):
        client = self.connect()
        found, point = self.take_control(client)
        data = found[BIKE_DATA][0]
        client.command(point, REQUEST_CONTROL)
        client.command(point, SET_POWER, *struct.pack("<h", 200))
        client.subscribe(data, 1)
        client.wait_told(data, lambda value: (bike_power_w(value) or 0) > 180)

    def test_one_at_a_time(self):
        first = self.connect()
        first.exchange_mtu(100)
        second = self.connect()
        with self.assertRaises(OSError):
            second.exchange_mtu(100)
            second.receive()
        self.assertIn(FITNESS_MACHINE, first.services())
        first.close()
        third = self.connect()
        while True:  # it notices the closed link when it gets to it
            try:
                self.assertIn(FITNESS_MACHINE, third.services())
                break
            except OSError:
                third = self.connect()

    def test_nonsense(self):
        with about(f"seed {self.seed}"):
            for turn in range(12):
                client = self.connect()
                for _ in range(200):
                    self.send_nonsense(client)
                    client.link.setblocking(False)
                    try:
                        while client.link.recv(4096):
                            pass
                    except BlockingIOError:
                        pass
                    except OSError:
                        break
                client.close()
                self.assertIsNone(self.bike.process.poll(), f"it died in turn {turn}")
            self.check_alive()

    def send_nonsense(self, client):
        length = self.random.choice((1, 2, 3, 5, 7, 9, 21, 23, 40, 247, 517, 518, 600, 4000))
        pdu = bytearray(self.random.randbytes(self.random.randrange(1, length + 1)))
        if self.random.random() < 0.7:  # requests that exist, with a handle that may
            pdu[0] = self.random.choice((0x02, 0x04, 0x06, 0x08, 0x0A, 0x0C, 0x0E, 0x10, 0x12, 0x16,
                                         0x18, 0x1E, 0x52, 0xD2))
            pdu[1:3] = struct.pack("<H", self.random.choice((0, 1, 5, 20, 25, 30, 33, 0xFFFF)))
        client.link.setblocking(True)
        try:
            client.link.send(bytes(pdu))
        except OSError:
            pass

    def check_alive(self):
        """Whoever comes next is served as if nothing had been."""
        while True:
            client = self.connect()
            try:
                _, point = self.take_control(client)
                break
            except OSError:
                client.close()
        self.assertEqual(client.command(point, REQUEST_CONTROL), SUCCESS)

    def test_every_length(self):
        client = self.connect()
        for length in [*range(1, 530), 1000, 2048, 4096, 16384]:
            try:
                client.link.send(bytes([0x12]) + bytes(length - 1))
                client.link.setblocking(False)
                client.link.recv(4096)
            except BlockingIOError:
                pass
            except OSError:
                client = self.connect()
            client.link.setblocking(True)
        client.close()
        self.check_alive()

    def test_a_client_that_does_not_read(self):
        """Its buffer runs full; the bike drops it and serves the next one."""
        client = self.connect()
        found = self.discover(client)
        client.subscribe(found[BIKE_DATA][0], 1)
        for _ in range(3000):  # answers that nobody takes
            try:
                client.link.settimeout(1)
                client.link.send(struct.pack("<BH", 0x0A, found[FEATURE][0]))
            except OSError:
                break
        client.close()
        self.check_alive()


if __name__ == "__main__":
    main()
