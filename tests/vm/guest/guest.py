"""What the guest's cases in Python share: controllers, attribute sockets, rides by a rider."""
import ctypes
import json
import os
import pathlib
import re
import signal
import socket
import struct
import subprocess
import sys
import time

TREE = pathlib.Path(os.environ["TREE"])
OUT = pathlib.Path(os.environ["OUT"])
AFTERSET = os.environ["AFTERSET"]
AFTERSET_ASAN = os.environ["AFTERSET_ASAN"]
RIDER = pathlib.Path("/run/rider")
RIDER_ID = 65534

sys.path.insert(0, str(TREE / "tests" / "e2e" / "lib"))
from attributes import Machine
from journey import SHORT_PROFILE, Running

AS_RIDER = [f"--reuid={RIDER_ID}", f"--regid={RIDER_ID}", "--clear-groups", "--bounding-set=-all"]
RIDER_ENV = dict(os.environ, HOME=str(RIDER), XDG_DATA_HOME=str(RIDER / "data"),
                 XDG_CONFIG_HOME=str(RIDER / "config"), XDG_RUNTIME_DIR=str(RIDER),
                 ASAN_OPTIONS="exitcode=99",
                 UBSAN_OPTIONS="print_stacktrace=1:halt_on_error=1:exitcode=99")


def shell(line):
    """What a line of shell prints, with the functions of lib.sh at hand."""
    script = f'. "{TREE}/tests/vm/guest/lib.sh"\n{line}'
    done = subprocess.run(["sh", "-c", script], stdin=subprocess.DEVNULL, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    assert done.returncode == 0, f"{line}: status {done.returncode}\n{done.stdout}"
    return done.stdout


def start_controllers(count=2):
    """hci0, hci1 and so on, powered, without a daemon. Gives their addresses."""
    shell(f"start_controllers {count}")
    return [shell(f"controller_address hci{number}").strip() for number in range(count)]


def readvertise(index, uuid):
    """Begins to advertise a service anew, as a device does that was just switched on."""
    shell(f"manage --index {index} rm-adv 1")
    shell(f"manage --index {index} add-adv -c -g -u {uuid} 1")


def give_second_number(index, address, uuid, bystander):
    """btvirt of BlueZ 5.66 passes a packet on with the sender's number of the link (send_acl() in
    emulator/btdev.c), so both ends must have the same number, and each end counts its own links.
    The rider's second one is this device's second one, too, while it has a link to a bystander.
    The rider's is another adapter, hci3. Gives what keeps that link."""
    listening = attribute_listen(address)
    shell(f"manage --index {index} add-adv -c -g -u {uuid} 1")
    outgoing = attribute_connect(bystander, address)
    incoming, _ = listening.accept()
    listening.close()
    shell(f"manage --index {index} rm-adv 1")
    return outgoing, incoming


def await_no_link(index, address):
    """The kernel keeps a link for some seconds after its last user."""
    until(lambda: address not in shell(f"manage --index {index} con"), "the end of the link", 60)


def start_btmon(capture):
    """Writes there from now on what passes any adapter.

    btmon of BlueZ 5.66 crashes over what bluetoothd remembers of a device's attributes, so it does
    not see that."""
    capture.unlink(missing_ok=True)
    script = 'mount -t tmpfs none /var/lib/bluetooth && exec btmon -w "$0"'
    monitor = subprocess.Popen(["unshare", "--mount", "sh", "-c", script, capture],
                               stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    header = 16
    until(lambda: capture.exists() and capture.stat().st_size > header, "btmon")
    return monitor


def of_host(*command, octets):
    """What a program that the guest does not have prints, given octets: the host's, out of its root
    file system. While that is read the guest's clock must not leap, so somebody is busy."""
    busy = subprocess.Popen(["nice", "-n", "19", "sh", "-c", "while :; do :; done"])
    try:
        done = subprocess.run(["chroot", "/guest/host", *command], input=octets,
                              capture_output=True)
    finally:
        busy.kill()
        busy.wait()
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


def until(condition, what, seconds=20):
    give_up = time.monotonic() + seconds
    while not (value := condition()):
        assert time.monotonic() < give_up, f"waited {seconds} s in vain for {what}"
        time.sleep(0.05)
    return value


def as_rider(*arguments, program=AFTERSET):
    """afterset, run by an ordinary user without capabilities."""
    running = Running([*AS_RIDER, program, *arguments], RIDER_ENV, "setpriv")
    until(lambda: is_no_longer_setpriv(running.pid), "the program")
    check_is_ordinary(running.pid)
    return running


def is_no_longer_setpriv(pid):
    """Also once it has ended, which a command may do at once."""
    path = pathlib.Path(f"/proc/{pid}/comm")
    return path.read_text().strip() not in ("setpriv", "python3")


def check_is_ordinary(pid, are_bounds_dropped=True):
    """Neither root nor any capability, in what it has and what it could get; proc(5)."""
    state = dict(line.split(":\t", 1) for line in
                 pathlib.Path(f"/proc/{pid}/status").read_text().splitlines())
    assert state["Uid"].split() == [str(RIDER_ID)] * 4, state["Uid"]
    names = ["CapInh", "CapPrm", "CapEff", "CapAmb", *(["CapBnd"] if are_bounds_dropped else [])]
    for name in names:
        assert int(state[name], 16) == 0, f"{name} {state[name]}"


def as_root(*arguments):
    return Running(arguments, dict(os.environ), AFTERSET)


def offer(adapter, *options):
    """A virtual bike on an adapter, once it advertises."""
    peripheral = as_root("virtual-bike", "--adapter", adapter, *options)
    line = peripheral.line()
    assert line is not None, peripheral.finish().err
    print(line)
    return peripheral


def bluez_peer(adapter, *options):
    """A bike and a strap that bluetoothd serves; see bluez_peer.c."""
    program = TREE / "build" / "release" / "tests" / "vm" / "bluez_peer"
    peer = Running([adapter, *options], dict(os.environ), program)
    while (line := peer.line()) != "registered":
        assert line is not None, peer.finish().err
    return peer


def heartless_machine():
    """Where it is ridden, a heart rate can only be the strap's."""
    path = pathlib.Path.home() / "heartless.machine"
    path.write_text("name Invented bike without heart\nheart no\n")
    return path


def short_profile(rounds=4):
    """Of 45 s each, 4 to 9; the rider is used to hard intervals, so it is ridden as written."""
    settings = RIDER / "config" / "afterset" / "rider"
    settings.parent.mkdir(parents=True, exist_ok=True)
    settings.write_text("experienced yes\n")
    for path in (settings, settings.parent, settings.parent.parent):
        os.chown(path, RIDER_ID, RIDER_ID)
    path = RIDER / "short.profile"
    path.write_text(SHORT_PROFILE.replace("rounds 4", f"rounds {rounds}"))
    path.chmod(0o644)
    return path


def finish(running, status=0):
    """Waits for the end; gives what it printed as JSON."""
    done = running.finish()
    assert done.status == status, f"status {done.status}: {done.err}\n{done.out[-2000:]}"
    return done.json()


def events(lines, name):
    return [line for line in lines if line["event"] == name]


def fields_of(journal, start):
    """The key=value words of the journal's lines that begin so; what is zero is not written."""
    return [dict(word.split("=") for word in line.split() if "=" in word) for line in journal
            if re.match(start, line)]


def numbers(rows, *names):
    return [tuple(int(row.get(name, 0)) for name in names) for row in rows]


def check_same(what, in_the_air, in_the_journal):
    """The journal begins when the machine is known and ends with the ride; the air has more."""
    count = len(in_the_journal)
    print(f"{what}: {len(in_the_air)} in the air, {count} in the journal")
    assert count > 0, what
    starts = range(len(in_the_air) - count + 1)
    assert any(in_the_air[start:start + count] == in_the_journal for start in starts), \
        f"{what}:\n{in_the_air}\n{in_the_journal}"


def is_loaded(event):
    return event["event"] == "load" and (event["power_w"] or 0) >= 80


def stop(ride):
    """The stop key twice; two signals at once would be one."""
    ride.signal(signal.SIGINT)
    ride.wait_for(lambda event: event["event"] == "phase" and event["phase"] in ("easy", "leaving"),
                  "the stop")
    ride.signal(signal.SIGINT)


def check_whole_ride(lines):
    """A ride of SHORT_PROFILE that came to its end: loads told, telemetry, the journal kept."""
    assert events(lines, "summary")[-1]["end"] == "done", lines[-5:]
    loads = {load["power_w"] for load in events(lines, "load")}
    assert {210, 90} <= loads, f"loads {loads}"
    telemetry = events(lines, "telemetry")
    assert len(telemetry) > 500, f"{len(telemetry)} records of 180 s at 4 Hz"
    assert max(line["power_w"] for line in telemetry) > 180
    ride_id = lines[0]["ride_id"]
    shown = finish(as_rider("show", ride_id, "--jsonl"))
    print(json.dumps(shown[0]))
    journal = as_rider("show", ride_id, "--journal").finish()
    assert journal.status == 0, journal.err
    path = RIDER / "ride.journal"
    path.write_text(journal.out)
    replay = as_rider("replay", path).finish()
    assert replay.status == 0, replay.out + replay.err
    return journal.out


# ---- the attribute channel, by hand ------------------------------------------------------------

ATT_CHANNEL = 4
LE_PUBLIC = 1


def _address(address, kind=LE_PUBLIC):
    """struct sockaddr_l2 of <bluetooth/l2cap.h>; Python's own form has no channel in it."""
    octets = bytes(reversed(bytes.fromhex(address.replace(":", ""))))
    return struct.pack("<HH6sHBx", socket.AF_BLUETOOTH, 0, octets, ATT_CHANNEL, kind)


def _call(name, sock, address):
    libc = ctypes.CDLL(None, use_errno=True)
    if getattr(libc, name)(sock.fileno(), address, len(address)) != 0:
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")


def management_socket():
    """struct sockaddr_hci of <bluetooth/hci.h>: of all controllers, on the control channel."""
    sock = socket.socket(socket.AF_BLUETOOTH, socket.SOCK_RAW, socket.BTPROTO_HCI)
    _call("bind", sock, struct.pack("<HHH", socket.AF_BLUETOOTH, 0xFFFF, 3))
    return sock


def attribute_socket(own_address):
    sock = socket.socket(socket.AF_BLUETOOTH, socket.SOCK_SEQPACKET, socket.BTPROTO_L2CAP)
    _call("bind", sock, _address(own_address))
    return sock


def attribute_listen(own_address):
    sock = attribute_socket(own_address)
    sock.listen(1)
    return sock


def attribute_connect(own_address, peer_address):
    """Blocks; the time limit is the socket's SO_SNDTIMEO."""
    sock = attribute_socket(own_address)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, struct.pack("ll", 20, 0))
    _call("connect", sock, _address(peer_address))
    return sock


class AirMachine(Machine):
    """The journeys' machine over the air. It counts the links that are over."""

    def __init__(self, adapter_address, links, rate=1, **more):
        super().__init__(attribute_listen(adapter_address), rate, meetings=("serve",) * links,
                         **more)
        self.over = 0
        self.start()

    def _meet(self, meeting):
        try:
            super()._meet(meeting)
        except TimeoutError:  # a link may also end so
            self.link.close()
        self.over += 1

    def await_end(self):
        """Of the link that it has, which the kernel keeps for some seconds after its last user."""
        until(lambda: self.over == len(self.met), "the end of the link", 60)


MTU_REQUEST = bytes.fromhex("020502")
MTU_RESPONSE = bytes.fromhex("03f700")


def _time_trips(own, peer, count):
    os.setgroups([])
    os.setgid(RIDER_ID)
    os.setuid(RIDER_ID)
    check_is_ordinary("self", are_bounds_dropped=False)
    with attribute_connect(own, peer) as sock:
        for _ in range(count):
            sent = time.monotonic()
            sock.send(MTU_REQUEST)
            assert sock.recv(1024) == MTU_RESPONSE
            print(time.monotonic() - sent, flush=True)


def attribute_round_trips(own, peer, count):
    """Seconds of each, sorted: an ordinary user asks, another process answers at once."""
    listening = attribute_listen(peer)
    shell("manage --index 1 add-adv -c -g -u 1826 1")
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(into, 1)
        status = 1
        try:
            _time_trips(own, peer, count)
            status = 0
        finally:
            os._exit(status)
    os.close(into)
    listening.settimeout(60)
    peripheral, _ = listening.accept()
    for _ in range(count):
        assert peripheral.recv(1024) == MTU_REQUEST
        peripheral.send(MTU_RESPONSE)
    with open(out) as told:
        trips = sorted(float(line) for line in told)
    assert os.waitpid(child, 0)[1] == 0, "the central failed"
    peripheral.close()
    listening.close()
    shell("manage --index 1 rm-adv 1")
    return trips
