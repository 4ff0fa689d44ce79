"""A simulated trainer that a receiver of receiver.py hears: its brake, and the legs that turn it.

Pages as the public library openant reads and writes them (devices/fitness_equipment.py), and
libantplus (plus/page.py) that of the capabilities.
"""
import struct
import time

import receiver

GENERAL, POWER, RESISTANCE, TARGET_POWER = 0x10, 0x19, 0x30, 0x31
CAPABILITIES, REQUEST, STATUS, MAKER = 0x36, 0x46, 0x47, 0x50
PASSED, FAILED, REJECTED, NONE = 0, 1, 3, 255
TAKES_RESISTANCE, TAKES_POWER = 1, 2
FULL_N = 85  # at 100 % of resistance
FULL_W_PER_RPM = 8  # the same: a turn of the crank is 2.7 of a wheel of 2.1 m
LAG_S = 1.0


class Trainer(receiver.Sensor):
    """`modes`: what it takes. What a test may change: `cadence_rpm`; `refuses`, with which result;
    `answers`, whether it tells the status of a command; `measures`; `kind_of_equipment`.

    `log` is what it was told: (seconds of the ride's time, seconds of the clock, page, value).
    """

    def __init__(self, number, modes=TAKES_RESISTANCE | TAKES_POWER, cadence_rpm=85):
        super().__init__(17, number, self.next_page)
        self.modes, self.cadence_rpm = modes, cadence_rpm
        self.refuses, self.answers, self.measures, self.tells_modes = None, True, True, True
        self.kind_of_equipment = 25
        self.log, self.asked = [], []
        self.load = (RESISTANCE, 0)
        self.status, self.sequence = None, 255
        self.told_refusals = 0  # of releases
        self.power_w, self.work, self.events, self.at_s, self.turns = 0.0, 0, 0, None, 0

    # ---- the brake ----

    def wanted_w(self):
        page, value = self.load
        if self.cadence_rpm == 0:
            return 0.0
        if page == TARGET_POWER:
            return value / 4
        return value / 200 * FULL_W_PER_RPM * self.cadence_rpm

    def pass_time(self, t_s):
        since_s = 0 if self.at_s is None else max(0, t_s - self.at_s)  # another receiver has its own
        self.at_s = t_s
        self.power_w += (self.wanted_w() - self.power_w) * min(1, since_s / LAG_S)

    # ---- what it hears and says ----

    def hear(self, t_s, page):
        """A page that it has acknowledged."""
        self.pass_time(t_s)
        if page[0] == REQUEST:
            assert page[1:5] == b"\xff\xff\xff\xff" and page[7] == 1, page.hex()
            self.asked += [page[6]] * (page[5] & 0x7F)
            return
        assert page[0] in (RESISTANCE, TARGET_POWER) and page[1:6] == b"\xff" * 5, page.hex()
        value = page[7] if page[0] == RESISTANCE else struct.unpack_from("<H", page, 6)[0]
        self.log.append((t_s, time.monotonic(), page[0], value))
        self.sequence = (self.sequence + 1) % 256
        result = PASSED if self.refuses is None else self.refuses
        self.status = (page, self.sequence, result)
        if result == PASSED:
            self.load = (page[0], value)

    def status_page(self):
        if self.status is None:
            return bytes([STATUS, *[255] * 7])
        page, sequence, result = self.status
        self.told_refusals += result == self.refuses and page[::7] == bytes([RESISTANCE, 0])
        return bytes([STATUS, page[0], sequence, result]) + page[4:8]

    def next_page(self, t_s):
        self.pass_time(t_s)
        while self.asked:
            wanted = self.asked.pop(0)
            if wanted == STATUS and self.answers:
                return self.status_page()
            if wanted == CAPABILITIES and self.tells_modes:
                return struct.pack("<BBBBBHB", CAPABILITIES, 255, 255, 255, 255, FULL_N,
                                   self.modes)
        self.turns += 1
        if not self.measures or self.turns % 8 == 0:
            return bytes([MAKER, 255, 255, 1, 255, 255, 1, 0])
        if self.turns % 2 == 0:
            return struct.pack("<BBBBHBB", GENERAL, self.kind_of_equipment, int(t_s * 4) & 255,
                               int(t_s * 8) & 255, 8000, 255, 0x34)
        self.events, power_w = self.events + 1, round(self.power_w)
        self.work += power_w
        return struct.pack("<BBBHHB", POWER, self.events & 255, self.cadence_rpm,
                           self.work & 0xFFFF, power_w, 0x30)

    # ---- for tests ----

    def is_released(self):
        return self.load == (RESISTANCE, 0) or self.load == (TARGET_POWER, 0)

    def targets_w(self, since=0):
        """Of what the log has from that place on."""
        return [value / 4 for _, _, page, value in self.log[since:] if page == TARGET_POWER]

    def released_after(self, since):
        """Seconds of the clock from then to the first release; None: there was none yet."""
        return next((when - since for _, when, _, value in self.log if when >= since and value == 0),
                    None)

    def check_stays_released(self, since):
        """Nothing but releases behind the first one."""
        told = [(round(when - since, 3), page, value) for _, when, page, value in self.log
                if when >= since]
        first = next(i for i, (_, _, value) in enumerate(told) if value == 0)
        assert all(value == 0 for _, _, value in told[first:]), told
