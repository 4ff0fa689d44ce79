#!/usr/bin/env python3
"""What is asked next time, over several rides: up, again, down or longer; the rider may choose
otherwise, and that is remembered. The rule is worked out here again, from what `show` prints."""
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import RELEASE, RIDERS, Journey, main
from pane import Pane

WIDE = """title     Invented wide block
length    3:00..7:00
rounds 4
  work    0:30  power 180..240 W
  rest    0:15  power 80..100 W
end
cool-down 0:05  power 50..60 W
"""
AGAIN = "Next time the same again, {}: "
FIRST = "one more that goes as well, and it goes up"
TWO_FULL = "the last two went well enough"
BLOCK = re.compile(r"ride (\d+), (\d+) % in range at (\d+) W(, cut off|, not to its end|), "
                   r"(\d+):(\d\d)(, eased for the legs|), (no effort said|effort (\d+))"
                   r"(, heart caution|)$")


def sentences(text):
    """The lines that stand at the left, joined again and cut at their full stops."""
    lines = [line for line in text.splitlines() if line and not line.startswith(" ")]
    return re.split(r"(?<=\.) (?=[A-Z+-])", " ".join(lines))


def blocks_of(show):
    """What the advice was reckoned from, newest first."""
    line = next(line for line in sentences(show) if re.match(r"Reckoned from ride \d+, \d+ % in", line))
    found = [BLOCK.match(part) for part in line[len("Reckoned from "):-1].split("; and ")]
    return [{"in_range": int(m[2]), "asked": int(m[3]), "done": m[4] == "", "cut": "cut" in m[4],
             "length": int(m[5]) * 60 + int(m[6]), "eased": m[7] != "",
             "effort": int(m[9]) if m[9] else None, "heart": m[10] != ""} for m in found]


def outcome(block):
    if not block["done"] or block["in_range"] < 40:
        return "missed"
    return "full" if block["in_range"] >= 60 else "partly"


def change_pct(blocks):
    """By so much more or less, by the rule of README.md; 0: the same again."""
    last, before = blocks[0], blocks[1] if len(blocks) > 1 else None
    if before is None or outcome(before) != outcome(last) or last["length"] != before["length"] \
            or abs(last["asked"] - before["asked"]) * 100 > max(last["asked"], before["asked"]):
        return 0
    if outcome(last) == "missed":
        return -5
    if outcome(last) == "partly" or any(b["heart"] or b["eased"] for b in (last, before)):
        return 0
    efforts = [b["effort"] for b in (last, before)]
    if max((effort for effort in efforts if effort is not None), default=0) > 8:
        return 2
    return 3 if None in efforts or max(efforts) > 6 else 5


class Advice(Journey):
    def setUp(self):
        super().setUp()
        self.wide = self.write("wide.profile", WIDE)
        self.rides = 0

    def ride(self, *arguments, status=0, err="", profile=None):
        self.rides += 1
        done = self.run_program("ride", profile or self.wide, "--rate", 10000, "--seed",
                                self.rides, *arguments)
        self.assert_ends(done, status, err)
        return done.out

    def advice(self, number=None):
        """The sentence on next time, which must be what its numbers make by hand."""
        done = self.run_program("show", number or self.rides)
        self.assert_ends(done, 0)
        for line in done.out.splitlines():
            self.assertLessEqual(len(line), 80, line)
        sentence = next(line for line in sentences(done.out) if line.startswith("Next time"))
        self.check_by_hand(sentence, blocks_of(done.out))
        return sentence

    def check_by_hand(self, sentence, blocks):
        pct, asked = change_pct(blocks), blocks[0]["asked"]
        if "for the last you chose" in sentence and outcome(blocks[0]) == "full":
            pct = 0
        if " as hard: " in sentence:
            self.assertGreater(pct, 0, sentence)
        elif "it cannot be harder or longer" not in sentence and pct != 0:
            then = int(asked * (100 + pct) / 100 + 0.5)
            self.assertIn(f"Next time {then} W in the work instead of {asked} W ({pct:+} %): ",
                          sentence)
            self.assertTrue(2 <= pct <= 5 or pct == -5)
        else:
            self.assertTrue(sentence.startswith(AGAIN.format(f"{asked} W")), sentence)

    def today(self):
        done = self.run_program()
        self.assert_ends(done, 0)
        self.assertTrue(all(len(line) <= 80 or line.lstrip().startswith("/")
                            for line in done.out.splitlines()), done.out)
        return done.out

    # ---- up, and again ----

    def test_up_after_two_in_full(self):
        self.assertIn(FIRST, self.ride().replace("\n", " "))
        self.assertEqual(self.advice(), AGAIN.format("210 W") + FIRST + ".")
        self.assertIn("Load    as written: 210 W in the work, as proposed\n", self.today())
        self.ride("--load", "next")
        self.assertEqual(self.advice(),
                         f"Next time 216 W in the work instead of 210 W (+3 %): {TWO_FULL}.")
        self.assertIn("Load    +3 %: 216 W in the work, as proposed\n", self.today())
        self.assertIn("Advice  Next time 216 W in the work instead of 210 W (+3 %): the last two went\n"
                      "        well enough\n", self.today())
        out = self.ride("--load", "next")
        self.assertIn("Today: 3:00 of 3:00..7:00, 4 rounds, load +3 %.\n", out)
        self.assertRegex(out, r"work 1 of 4 for 0:30, 185..247 W")
        self.assertEqual(self.advice(), AGAIN.format("216 W") + FIRST + ".")
        # What was said of the effort decides by how much.
        self.ride("--load", "next")
        for number, effort, change in ((4, 6, 3), (3, 6, 5), (4, 7, 3), (3, 9, 2)):
            self.assert_ends(self.run_program("rate", number, "--effort", effort), 0)
            self.assertIn(f"({change:+} %)", self.advice(4))

    def test_down_after_two_misses(self):
        hard = self.write("hard.profile", WIDE.replace("180..240", "300..340"))
        weak = ("--virtual-rider", RIDERS / "weak.rider")
        self.ride(*weak, profile=hard)
        self.assertIn("the last was missed, and one bad day changes nothing", self.advice())
        self.ride(*weak, profile=hard)
        self.assertEqual(self.advice(), "Next time 304 W in the work instead of 320 W (-5 %): "
                                        "the last two were missed.")
        self.assertIn("Load    -5 %: 304 W in the work, as proposed\n", self.today())
        self.ride("--load", "next", profile=hard)
        self.assertIn("again, 304 W: ", self.advice())

    def test_longer_where_it_cannot_be_harder(self):
        self.assert_ends(self.run_program("rider", "power-limit", 212), 0)
        self.ride()
        self.ride()
        self.assertEqual(self.advice(), f"Next time 3:45 instead of 3:00, as hard: {TWO_FULL}.")
        self.assertIn("Length  3:45: 5 rounds, from 3:00 to 6:45\n", self.today())
        self.ride("--load", "next")
        self.assertEqual(self.show(3)["length_s"], 225)
        # Chosen is what was before: remembered too.
        self.ride()
        self.ride()
        self.ride("--load", 0)
        self.assertIn("; for the last you chose 3:00 over the 3:45 proposed", self.advice())

    # ---- what keeps it down ----

    def test_nothing_goes_up_after_the_heart_warned(self):
        self.ride()
        self.ride("--virtual-rider", RIDERS / "flat-heart.rider")
        self.assertRegex(self.journal(2), r"(?m)^< caution .*heart")
        self.assertEqual(self.advice(), AGAIN.format("210 W") + "the heart gave a caution in the "
                         "last, and after that nothing goes up.")
        self.ride()
        self.assertIn(FIRST, self.advice())

    def test_nothing_goes_up_after_a_cut_off(self):
        self.ride()
        self.ride("--virtual-rider", RIDERS / "racing-heart.rider", status=3)
        self.assertEqual(self.advice(), AGAIN.format("210 W") + "the last was cut off, and after "
                         "that nothing goes up.")

    def test_eased_for_the_legs(self):
        self.ride("--feel", 1)
        self.assertEqual(self.advice(), AGAIN.format("210 W") + "the last was eased for the legs, "
                         "so it does not count.")

    # ---- the rider's own choice ----

    def test_the_rider_chooses_otherwise(self):
        self.ride()
        self.ride()
        self.ride("--load", 0)
        self.assertEqual(self.advice(), AGAIN.format("210 W") + FIRST +
                         "; for the last you chose 210 W over the 216 W proposed.")
        self.assertIn("you chose 210 W over the 216 W proposed", " ".join(self.today().split()))
        # Two in full again, from there.
        self.ride("--load", "next")
        self.assertIn(f"216 W in the work instead of 210 W (+3 %): {TWO_FULL}.", self.advice())
        self.ride("--load", "+10")
        self.assertEqual(self.advice(), AGAIN.format("231 W") + FIRST +
                         "; for the last you chose 231 W over the 216 W proposed.")
        # It says of a ride what was known then, and other kinds are other kinds.
        self.assertIn("you chose 210 W over the 216 W", self.advice(3))
        self.ride("--after", "fresh", "--load", "next",
                  err="--load next: there is no earlier block like this one")

    def test_on_the_page(self):
        self.ride()
        self.ride()
        pane = Pane([RELEASE], self.env, 80, 24)
        self.addCleanup(pane.close)
        pane.wait_for("+3 %: 216 W in the work, as proposed", "Advice", "well enough")
        pane.press("-")
        pane.wait_for("+2 %: 214 W in the work; proposed 216 W")
        pane.press("n")
        pane.wait_for("+3 %: 216 W in the work, as proposed")
        pane.press("+")
        pane.press("Enter")
        pane.wait_for("WORK 1 OF 4", "187..250 W", "in range")
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        pane.wait_for("Stopped: by your key.")
        pane.press("q")
        pane.wait_for("ended 0")
        self.assertIn("for the last you chose 219 W over the 216 W proposed", self.advice(3))

    def test_wrong_use(self):
        for word in ("up", "3", "+51", "-51", "", "+", "+3 %"):
            done = self.run_program("ride", self.wide, "--load", word)
            self.assert_ends(done, 2, "--load wants next, or a change from -50 to \\+50")


if __name__ == "__main__":
    main()
