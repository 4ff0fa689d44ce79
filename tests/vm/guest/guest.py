"""What the guest's cases in Python share: controllers, attribute sockets, rides by a rider."""
import ctypes
import json
import os
import pathlib
import socket
import struct
import subprocess
import sys
import time

TREE = pathlib.Path(os.environ["TREE"])
OUT = pathlib.Path(os.environ["OUT"])
AFTERSET = os.environ["AFTERSET"]
RIDER = pathlib.Path("/run/rider")
RIDER_ID = 65534

sys.path.insert(0, str(TREE / "tests" / "e2e" / "lib"))
from journey import SHORT_PROFILE, Running

AS_RIDER = [f"--reuid={RIDER_ID}", f"--regid={RIDER_ID}", "--clear-groups", "--bounding-set=-all"]
RIDER_ENV = dict(os.environ, HOME=str(RIDER), XDG_DATA_HOME=str(RIDER / "data"),
                 XDG_CONFIG_HOME=str(RIDER / "config"), XDG_RUNTIME_DIR=str(RIDER))


def shell(line):
    """What a line of shell prints, with the functions of lib.sh at hand."""
    script = f'. "{TREE}/tests/vm/guest/lib.sh"\n{line}'
    done = subprocess.run(["sh", "-c", script], stdin=subprocess.DEVNULL, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    assert done.returncode == 0, f"{line}: status {done.returncode}\n{done.stdout}"
    return done.stdout


def start_controllers():
    """hci0 and hci1, powered, without a daemon. Gives their addresses.

    Two, and one link at a time: in btvirt of BlueZ 5.66 what the peripheral of a second link of
    one controller answers is lost.
    """
    shell("start_controllers")
    return shell("controller_address hci0; controller_address hci1").split()


def skip(why):
    """The verdict of a case that cannot be tried here."""
    print(why)
    sys.exit(77)


def until(condition, what, seconds=20):
    give_up = time.monotonic() + seconds
    while not (value := condition()):
        assert time.monotonic() < give_up, f"waited {seconds} s in vain for {what}"
        time.sleep(0.05)
    return value


def as_rider(*arguments):
    """afterset, run by an ordinary user without capabilities."""
    return Running([*AS_RIDER, AFTERSET, *arguments], RIDER_ENV, "setpriv")


def as_root(*arguments):
    return Running(arguments, dict(os.environ), AFTERSET)


def offer(adapter, *options):
    """A virtual bike on an adapter, once it advertises."""
    peripheral = as_root("virtual-bike", "--adapter", adapter, *options)
    line = peripheral.line()
    assert line is not None, peripheral.finish().err
    print(line)
    return peripheral


def heartless_machine():
    """Where it is ridden, a heart rate can only be the strap's."""
    path = pathlib.Path("/run/heartless.machine")
    path.write_text("name Invented bike without heart\nheart no\n")
    return path


def short_profile():
    """Its file; the rider is used to hard intervals, so that it is ridden as it is written."""
    settings = RIDER / "config" / "afterset" / "rider"
    settings.parent.mkdir(parents=True, exist_ok=True)
    settings.write_text("experienced yes\n")
    for path in (settings, settings.parent, settings.parent.parent):
        os.chown(path, RIDER_ID, RIDER_ID)
    path = RIDER / "short.profile"
    path.write_text(SHORT_PROFILE)
    path.chmod(0o644)
    return path


def finish(running, status=0):
    """Waits for the end; gives what it printed as JSON."""
    done = running.finish()
    assert done.status == status, f"status {done.status}: {done.err}\n{done.out[-2000:]}"
    return done.json()


def events(lines, name):
    return [line for line in lines if line["event"] == name]


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
