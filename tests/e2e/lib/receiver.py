"""A simulated ANT receiver at a socket, and sensors that it hears; independent of the program.

Numbers: ANT Message Protocol and Usage, D00000652 Rev 5.1, section 9; pages of the sensors as the
public library openant reads them (devices/heart_rate.py and its neighbours).
"""
import select
import socket
import struct
import threading
import time

from journey import DEADLINE_S

SYNC = 0xA4
RESPONSE, ASSIGN, PERIOD, SEARCH_TIME, FREQUENCY, KEY = 0x40, 0x42, 0x43, 0x44, 0x45, 0x46
RESET, OPEN, CLOSE, REQUEST, BROADCAST, ACKNOWLEDGED = 0x4A, 0x4B, 0x4C, 0x4D, 0x4E, 0x4F
CAPABILITIES, OPEN_SCAN, EXTEND = 0x54, 0x5B, 0x66
CHANNEL_ID, STATUS, STARTED = 0x51, 0x52, 0x6F
OK, SEARCH_TIMED_OUT, MISSED, CLOSED, SEARCHES_AGAIN, WRONG_STATE = 0, 1, 2, 7, 8, 0x15
TRANSFERRED, NOT_TRANSFERRED, IN_PROGRESS = 5, 6, 0x1F
INVALID_PARAMETER = 0x33
# Type of device → period in 1/32768 s.
PERIODS = {120: 8070, 11: 8182, 121: 8086, 122: 8102, 17: 8192}


def frame(message, *payload):
    octets = bytes([SYNC, len(payload), message, *payload])
    check = 0
    for octet in octets:
        check ^= octet
    return octets + bytes([check])


class Sensor:
    """Is sending while `is_on`; page(t_s) gives the 8 octets of that moment. `is_deaf` may be set: it
    does not hear what is sent to it."""

    def __init__(self, kind, number, page):
        self.kind, self.number, self.page, self.is_on = kind, number, page, True
        self.is_deaf = False

    def hear(self, t_s, page):
        raise AssertionError(f"a sensor is told {page.hex()} at {t_s} s")


def strap(number, bpm):
    """Flips the highest bit of the page number every fourth page, as straps do."""
    def page(t_s):
        beats = t_s * bpm / 60
        toggle = 0x80 if int(t_s) % 2 else 0
        return struct.pack("<BBBBHBB", toggle, 255, 255, 255,
                           int(int(beats) * 60 / bpm * 1024) & 0xFFFF, int(beats) & 0xFF, bpm)
    return Sensor(120, number, page)


def pedals(number, power_w, cadence_rpm):
    """Power alone: measured once a second, said four times."""
    def page(t_s):
        events = int(t_s)
        return struct.pack("<BBBBHH", 0x10, events & 0xFF, 0xFF, cadence_rpm,
                           events * power_w & 0xFFFF, power_w)
    return Sensor(11, number, page)


def trainer(number, power_w, cadence_rpm):
    """Fitness equipment: its own page, and the general one every other time."""
    def page(t_s):
        events = int(t_s * 4)
        if events % 2:
            return struct.pack("<BBBBHBB", 0x10, 25, events & 0xFF, 0, 8000, 0xFF, 0x34)
        return struct.pack("<BBBHHB", 0x19, events & 0xFF, cadence_rpm, events * power_w & 0xFFFF,
                           power_w, 0x30)
    return Sensor(17, number, page)


def crank(number, cadence_rpm):
    """Speed and cadence: a crank, and a wheel that stands."""
    def page(t_s):
        turns = int(t_s * cadence_rpm / 60)
        return struct.pack("<HHHH", int(turns * 60 / cadence_rpm * 1024) & 0xFFFF, turns & 0xFFFF,
                           0, 0)
    return Sensor(121, number, page)


class Channel:
    def __init__(self):
        self.number = self.kind = self.period = self.frequency = None
        self.is_open, self.sensor, self.search_time, self.scans = False, None, 10, False
        self.heard = self.due_s = self.until_s = 0
        self.to_send = None  # a page to be acknowledged


class Receiver(threading.Thread):
    """Serves one link after the other until finish(). Splits what it says anywhere.

    A key of None: it takes none. `is_mute` may be set, and lasts as long as the link. One that
    `scans` hears all sensors at once.
    """
    scans = True

    def __init__(self, path, key, sensors, rate):
        super().__init__(daemon=True)
        self.listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.path = path
        self.listener.bind(str(path))
        self.listener.listen(2)
        self.key, self.sensors, self.rate = key, sensors, rate
        self.links, self.fault, self.is_over, self.link = 0, None, False, None
        self.keys, self.asked = [], []  # (channel, number, kind) that was searched for
        self.begun = time.monotonic()
        self.start()

    def now_s(self):
        """Of the ride's time."""
        return (time.monotonic() - self.begun) * self.rate

    def run(self):
        try:
            while not self.is_over:
                if select.select([self.listener], [], [], 0.05)[0]:
                    self.serve(self.listener.accept()[0])
        except Exception as fault:  # told by finish()
            self.fault = fault
        self.listener.close()

    def unplug(self):
        """For good; one that is plugged in again is another."""
        self.is_over = True
        self.path.unlink()
        self.link.shutdown(socket.SHUT_RDWR)
        self.finish()

    def finish(self):
        self.is_over = True
        self.join(DEADLINE_S)
        assert not self.is_alive(), "the receiver still has its link"
        if self.fault is not None:
            raise self.fault

    # ---- one link ----

    def serve(self, link):
        self.link, self.channels, self.is_keyed, self.is_mute = link, {}, False, False
        self.links += 1
        self.waiting, self.said = b"", b""
        try:
            while True:
                due_s = min([max(self.next_s(channel) - self.now_s(), 0)
                             for channel in self.channels.values() if channel.is_open] + [1])
                if select.select([link], [], [], due_s / self.rate)[0]:
                    octets = link.recv(4096)
                    if not octets:
                        return
                    self.take(octets)
                self.radio()
                self.flush()
        except (BrokenPipeError, ConnectionResetError):
            pass
        finally:
            link.close()

    def say(self, message, *payload):
        self.said += frame(message, *payload)

    def flush(self):
        """In pieces of 7 octets: no message comes whole."""
        if self.is_mute:
            self.said = b""
        for at in range(0, len(self.said), 7):
            self.link.send(self.said[at:at + 7])
        self.said = b""

    def take(self, octets):
        self.waiting += octets
        while len(self.waiting) >= 4:
            length = self.waiting[1] + 4
            if len(self.waiting) < length:
                return
            whole, self.waiting = self.waiting[:length], self.waiting[length:]
            assert whole == frame(whole[2], *whole[3:-1]), whole.hex()
            self.on_message(whole[2], whole[3:-1])

    def on_message(self, message, payload):
        number = payload[0]
        if message == RESET:
            self.channels, self.is_keyed = {}, False
            self.say(STARTED, 0x20)
            return
        if message == REQUEST:
            self.on_request(number, payload[1])
            return
        if message == CLOSE:
            self.on_close(number)
            return
        if message == ACKNOWLEDGED:
            self.on_page(number, bytes(payload[1:]))
            return
        self.say(RESPONSE, number, message, self.obey(message, number, payload[1:]))

    def obey(self, message, number, rest):
        if message == KEY:
            self.keys.append(bytes(rest))
            self.is_keyed = bytes(rest) == self.key
            return INVALID_PARAMETER if self.key is None else OK
        if message == EXTEND:
            self.is_extended = rest[0] == 1
            return OK
        if message == ASSIGN:
            if number in self.channels:
                return WRONG_STATE
            self.channels[number] = Channel()
            return OK
        channel = self.channels.get(number)
        if channel is None or channel.is_open:
            return WRONG_STATE
        if message == OPEN_SCAN:
            assert self.scans and self.is_extended and (channel.number, channel.kind) == (0, 0)
            channel.is_open, channel.period, channel.scans = True, 8192, True
            channel.due_s = self.now_s() + 0.25
        elif message == CHANNEL_ID:
            channel.number, channel.kind = struct.unpack_from("<HB", rest)
        elif message == PERIOD:
            channel.period = struct.unpack("<H", rest)[0]
        elif message == FREQUENCY:
            channel.frequency = rest[0]
        elif message == SEARCH_TIME:
            channel.search_time = rest[0] * 2.5
        elif message == OPEN:
            self.asked.append((number, channel.number, channel.kind))
            channel.is_open, channel.sensor, channel.missed = True, None, 0
            channel.until_s = self.now_s() + channel.search_time
            channel.due_s = self.now_s() + 0.25
        else:
            raise AssertionError(f"message {message:#x}")
        return OK

    def on_page(self, number, page):
        channel = self.channels.get(number)
        if channel is None or not channel.is_open:
            self.say(RESPONSE, number, ACKNOWLEDGED, WRONG_STATE)
        elif channel.to_send is not None:
            self.say(RESPONSE, number, ACKNOWLEDGED, IN_PROGRESS)
        else:
            channel.to_send = page

    def on_close(self, number):
        is_open = number in self.channels and self.channels[number].is_open
        self.say(RESPONSE, number, CLOSE, OK if is_open else WRONG_STATE)
        if is_open:
            self.channels[number].is_open, self.channels[number].to_send = False, None
            self.say(RESPONSE, number, 1, CLOSED)

    def on_request(self, number, wanted):
        if wanted == CAPABILITIES:
            self.say(CAPABILITIES, 8, 8, 0, 0xBA, 0x36 if self.scans else 0x30, 0)
            return
        channel = self.channels[number]
        if wanted == CHANNEL_ID:
            sensor = channel.sensor
            self.say(CHANNEL_ID, number, *struct.pack("<H", sensor.number if sensor else 0),
                     channel.kind, 1)
        elif wanted == STATUS:
            self.say(STATUS, number, (3 if channel.sensor else 2) if channel.is_open else 1)

    # ---- the air ----

    def next_s(self, channel):
        return channel.due_s

    def hears(self, channel, sensor):
        return (sensor.is_on and self.is_keyed and channel.frequency == 57
                and sensor.kind == channel.kind and channel.period == PERIODS[sensor.kind]
                and channel.number in (0, sensor.number))

    def radio(self):
        for number, channel in self.channels.items():
            while channel.is_open and channel.due_s <= self.now_s():
                channel.due_s += channel.period / 32768
                self.turn(number, channel)

    def tell_all(self, channel):
        for sensor in self.sensors:
            if sensor.is_on and self.is_keyed and channel.frequency == 57:
                self.say(BROADCAST, 0, *sensor.page(self.now_s()), 0x80,
                         *struct.pack("<HBB", sensor.number, sensor.kind, 1))

    def turn(self, number, channel):
        if channel.scans:
            self.tell_all(channel)
        elif channel.sensor is None:
            channel.sensor = next((sensor for sensor in self.sensors
                                   if self.hears(channel, sensor)), None)
            if channel.sensor is not None:
                channel.number = channel.sensor.number  # kept to until it is configured anew
            elif self.now_s() > channel.until_s:
                channel.is_open = False
                self.say(RESPONSE, number, 1, SEARCH_TIMED_OUT)
                self.say(RESPONSE, number, 1, CLOSED)
        elif channel.sensor.is_on:
            channel.missed = 0
            self.say(BROADCAST, number, *channel.sensor.page(self.now_s()))
            self.transfer(number, channel, not channel.sensor.is_deaf)
        else:
            channel.missed += 1
            self.transfer(number, channel, False)
            self.say(RESPONSE, number, 1, MISSED if channel.missed < 8 else SEARCHES_AGAIN)
            if channel.missed == 8:
                channel.sensor = None
                channel.until_s = self.now_s() + channel.search_time

    def transfer(self, number, channel, is_heard):
        """What is to be sent goes out in the sensor's turn, once."""
        if channel.to_send is None:
            return
        if is_heard:
            channel.sensor.hear(self.now_s(), channel.to_send)
        channel.to_send = None
        self.say(RESPONSE, number, 1, TRANSFERRED if is_heard else NOT_TRANSFERRED)
