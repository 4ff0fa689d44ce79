"""The figures of a ride worked out again from its telemetry lines, and what its lines keep to.

Nothing here is taken from the program: trapezoids between samples, gaps above 3 s left out; gross
efficiency of cycling 0.18 to 0.24, 0.20 in the middle (common practice); 4.184 kJ a kilocalorie.
"""
GAP_MS = 3000
WINDOW_MS = 3000
KJ_PER_KCAL = 4.184
RAMP_W_PER_S = 100
RAISE_SLACK_W = 26  # a tick of 250 ms more, and rounding

KEYS = {
    "hello": {"program", "version", "ride_id", "profile", "bike", "strap",
              "power_sensor", "cadence_sensor", "fit", "steps", "length_s",
              "planned_s", "heart_limit_bpm", "load_limit_w", "reserve_of_j", "reserve_above_w",
              "reserve_from"},
    "phase": {"phase"},
    "step": {"index", "kind", "duration_s", "round", "rounds", "power_low_w", "power_high_w",
             "cadence_low_rpm", "cadence_high_rpm", "heart_low_bpm", "heart_high_bpm",
             "level_low", "level_high", "effort_low", "effort_high", "to_power_low_w",
             "to_power_high_w", "to_level_low", "to_level_high", "until", "until_value", "reps",
             "tempo", "cue"},
    "shift": {"shift_pct"},
    "knob": {"turn", "by_w", "in_ms", "to", "text"},
    "telemetry": {"power_w", "cadence_rpm", "heart_bpm", "distance_m"},
    "load": {"kind", "power_w", "level"},
    "hold": {"on", "reason", "text"},
    "caution": {"caution", "text"},
    "cut_off": {"reason", "text"},
    "mark": {"measure", "block_ms", "ahead", "finish", "finish_error", "beaten"},
    "reserve": {"block_ms", "differential_pct", "integral_pct", "error_points"},
    "sources": {"sensor_pct", "difference_tenths", "difference_error_tenths"},
    "summary": {"ride_id", "profile", "skipped_steps", "released", "duration_s", "work_j", "calories_kcal", "calories_low_kcal",
                "calories_high_kcal", "acsm_kcal", "acsm_extrapolated", "average_power_w",
                "work_power_w", "max_power_w", "distance_m", "in_range_pct", "average_heart_bpm",
                "max_heart_bpm", "heart_fall_bpm", "best_5s_w",
                "best_30s_w", "best_60s_w", "best_180s_w", "sensor_pct", "difference_tenths",
                "difference_error_tenths", "end", "reason"},
}


def half_up(value):
    return int(value + 0.5)


class Sums:
    """Goes through the lines of a ride once."""

    def __init__(self, lines):
        self.work_j = self.known_ms = self.work_step_j = self.work_step_ms = 0.0
        self.duration_ms = 0
        self.work_s = self.in_range_s = 0
        self.hearts, self.powers = [], []
        self.distance_m = 0
        self.stretches = []  # lists of (t_ms, power_w) without a gap between them
        self._phase = self._step = None
        self._step_ms = self._t_ms = 0
        self._last = None  # (t_ms, power_w, in work)
        self._window = []
        for line in lines:
            self._pass_time(line["t_ms"])
            getattr(self, "_on_" + line["event"], lambda line: None)(line)

    # ---- time ----

    def _pass_time(self, t_ms):
        if t_ms == self._t_ms:
            return
        if self._phase in ("riding", "easy"):
            self.duration_ms += t_ms - self._t_ms
        if self._phase == "riding" and self._step["kind"] == "work":
            self._count_seconds(t_ms)
        if self._phase == "riding":
            self._step_ms += t_ms - self._t_ms
        self._t_ms = t_ms

    def _count_seconds(self, t_ms):
        begun_ms = self._t_ms - self._step_ms
        passed_s = (self._step_ms + t_ms - self._t_ms) // 1000
        for second in range(self._step_ms // 1000 + 1, passed_s + 1):
            at_ms = begun_ms + 1000 * second
            inside = [power for t, power in self._window if at_ms - WINDOW_MS < t < at_ms]
            self.work_s += 1
            low, high = power_range(self._step, second - 1)
            if inside and low <= sum(inside) / len(inside) <= high:
                self.in_range_s += 1

    # ---- lines ----

    def _on_phase(self, line):
        self._phase = line["phase"]

    def _on_step(self, line):
        self._step, self._step_ms = line, 0

    def _on_hold(self, line):
        if line["on"]:
            self._last, self._window = None, []

    def _on_telemetry(self, line):
        if line["heart_bpm"] is not None:
            self.hearts.append(line["heart_bpm"])
        self.distance_m = line["distance_m"]
        if line["power_w"] is not None:
            self._add_power(line["t_ms"], line["power_w"])

    def _add_power(self, t_ms, power_w):
        in_work = self._phase == "riding" and self._step["kind"] == "work"
        if self._last is not None and t_ms - self._last[0] <= GAP_MS:
            joules = (power_w + self._last[1]) / 2 * (t_ms - self._last[0]) / 1000
            self.work_j += joules
            self.known_ms += t_ms - self._last[0]
            if in_work and self._last[2]:
                self.work_step_j += joules
                self.work_step_ms += t_ms - self._last[0]
        else:
            self.stretches.append([])
        self.stretches[-1].append((t_ms, power_w))
        self._last = (t_ms, power_w, in_work)
        self._window.append((t_ms, power_w))
        self.powers.append(power_w)

    # ---- means ----

    def average_power_w(self):
        return half_up(1000 * self.work_j / self.known_ms) if self.known_ms else 0

    def work_power_w(self):
        return half_up(1000 * self.work_step_j / self.work_step_ms) if self.work_step_ms else 0

    def best_w(self, seconds):
        """The highest mean over windows on whole seconds after the first sample of a stretch."""
        means = []
        for stretch in self.stretches:
            totals = work_at_seconds(stretch)
            means += [(after - before) / seconds for before, after in zip(totals, totals[seconds:])]
        return max(means, default=None)


def power_range(step, second):
    """What a step asks for in that second, along its ramp where it has one."""
    low, high = step["power_low_w"], step["power_high_w"]
    if step["to_power_low_w"] is None:
        return low, high
    share = second / step["duration_s"]
    return (low + int((step["to_power_low_w"] - low) * share),
            high + int((step["to_power_high_w"] - high) * share))


def work_at_seconds(stretch):
    """Joules from the first sample to each whole second after it; straight lines in between."""
    totals, total = [0.0], 0.0
    for (t_ms, power_w), (next_ms, next_w) in zip(stretch, stretch[1:]):
        slope = (next_w - power_w) / (next_ms - t_ms) if next_ms > t_ms else 0
        while stretch[0][0] + 1000 * len(totals) <= next_ms:
            part_ms = stretch[0][0] + 1000 * len(totals) - t_ms
            totals.append(total + (power_w + slope * part_ms / 2) * part_ms / 1000)
        total += (power_w + next_w) / 2 * (next_ms - t_ms) / 1000
    return totals


# ---- checks; `test` is the unittest.TestCase ----


def check_lines(test, lines):
    """What the lines of any ride keep to, whole ones with a summary."""
    kinds = [line["event"] for line in lines]
    test.assertEqual(kinds[0], "hello")
    test.assertEqual(kinds[-1], "summary")
    test.assertEqual((kinds.count("hello"), kinds.count("summary")), (1, 1))
    t_ms = 0
    for line in lines:
        test.assertEqual(set(line) - {"event", "t_ms"}, KEYS[line["event"]])
        test.assertIsInstance(line["t_ms"], int)
        test.assertGreaterEqual(line["t_ms"], t_ms, line)
        t_ms = line["t_ms"]
    check_loads(test, lines)


def check_loads(test, lines):
    limit_w = lines[0]["load_limit_w"]
    is_cut = False
    last_w, last_t_ms = 0, None
    for line in lines:
        is_cut = is_cut or line["event"] == "cut_off"
        if line["event"] != "load":
            continue
        if is_cut:
            test.assertEqual(line["kind"], "released", "a load after the cut-off")
        power_w = line["power_w"] if line["kind"] == "power" else 0
        test.assertLessEqual(power_w, limit_w)
        if power_w > last_w:
            passed_s = 0 if last_t_ms is None else (line["t_ms"] - last_t_ms) / 1000
            test.assertLessEqual(power_w - last_w, RAMP_W_PER_S * passed_s + RAISE_SLACK_W, line)
        last_w, last_t_ms = power_w, line["t_ms"]


def check_summary(test, lines, exact=True):
    """The summary against the telemetry lines. Where time did not stand still between events, the
    lines do not tell to the millisecond how long things took: not `exact`."""
    sums, summary = Sums(lines), lines[-1]
    test.assertAlmostEqual(summary["work_j"], sums.work_j, delta=1)
    test.assertEqual(summary["average_power_w"], sums.average_power_w())
    test.assertEqual(summary["work_power_w"] or 0, sums.work_power_w())
    test.assertEqual(summary["max_power_w"], max(sums.powers, default=0))
    test.assertEqual(summary["distance_m"], sums.distance_m)
    test.assertAlmostEqual(summary["duration_s"], sums.duration_ms / 1000,
                           delta=0.001 if exact else 0.25)
    for key, efficiency in (("calories_kcal", 0.20), ("calories_low_kcal", 0.24),
                            ("calories_high_kcal", 0.18)):
        test.assertAlmostEqual(summary[key], summary["work_j"] / 1000 / efficiency / KJ_PER_KCAL,
                               delta=0.06, msg=key)
    check_acsm(test, summary)
    if sums.work_s == 0:
        test.assertIsNone(summary["in_range_pct"])
    else:
        test.assertAlmostEqual(summary["in_range_pct"], 100 * sums.in_range_s / sums.work_s,
                               delta=0.06 if exact else 2)
    check_hearts(test, summary, sums)
    check_bests(test, summary, sums)


def check_acsm(test, summary):
    """10.8 W/kg + 7 ml/kg/min (GETP 10, table 6.3), 5 kcal a litre; made for 50 to 200 W. The rider
    of these rides is the built-in one, of 75 kg."""
    if summary["duration_s"] == 0:
        test.assertIsNone(summary["acsm_kcal"])
        return
    power_w = summary["average_power_w"]
    litres = (10.8 * power_w / 75 + 7) * 75 / 1000 * summary["duration_s"] / 60
    test.assertAlmostEqual(summary["acsm_kcal"], 5 * litres, delta=0.06)
    test.assertEqual(summary["acsm_extrapolated"], not 50 <= power_w <= 200)


def check_hearts(test, summary, sums):
    if not sums.hearts:
        test.assertIsNone(summary["average_heart_bpm"])
        test.assertIsNone(summary["max_heart_bpm"])
        return
    test.assertEqual(summary["average_heart_bpm"], half_up(sum(sums.hearts) / len(sums.hearts)))
    test.assertEqual(summary["max_heart_bpm"], max(sums.hearts))


def check_bests(test, summary, sums):
    for seconds in (5, 30, 60, 180):
        best, told = sums.best_w(seconds), summary[f"best_{seconds}s_w"]
        if best is None:
            test.assertIsNone(told, seconds)
        else:
            test.assertAlmostEqual(told or 0, best, delta=0.51, msg=seconds)


def check_stored(test, stored, summary):
    """`show N --jsonl` against the summary line of the same ride."""
    test.assertEqual(stored["ride_id"], summary["ride_id"])
    test.assertEqual(stored["profile"], summary["profile"])
    test.assertEqual(stored["state"], "finished")
    for key in ("end", "reason", "work_j", "average_power_w", "distance_m", "average_heart_bpm",
                "max_heart_bpm", "heart_fall_bpm", "work_power_w", "best_5s_w", "best_30s_w",
                "best_60s_w", "best_180s_w"):
        test.assertEqual(stored[key], summary[key], key)
    test.assertEqual(stored["duration_s"], int(summary["duration_s"]))
    for key in ("calories_kcal", "calories_low_kcal", "calories_high_kcal"):
        test.assertAlmostEqual(stored[key] or 0, summary[key], delta=0.56, msg=key)
    if summary["in_range_pct"] is None:
        test.assertIsNone(stored["in_range_pct"])
    else:
        test.assertAlmostEqual(stored["in_range_pct"], summary["in_range_pct"], delta=0.51)
