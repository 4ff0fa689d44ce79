#!/usr/bin/env python3
"""A bike that takes levels, and nobody who measures power: the rider's keys set the level, of the
work and of all else, and the next ride begins there."""
import pathlib
import re
import sqlite3
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import MACHINES, RELEASE, ROOT, Journey, main, real_time
from pane import Pane

RATE = 12
BY_FEEL = ("by feel, cadence", "+ - level")


@real_time
class ByFeel(Journey):
    def start(self):
        self.bike = self.start_bike(self.home / "bike", "--rate", RATE, "--machine",
                                    MACHINES / "unmeasured.machine")
        pane = Pane([RELEASE, "ride", ROOT / "profiles" / "60-60x3.profile", "--rate", RATE,
                     "--bike", f"unix:{self.home / 'bike'}"], self.env)
        self.addCleanup(pane.close)
        return pane

    def press(self, pane, key, level):
        """The level that comes of it."""
        pane.press(key)
        return pane.wait_for(f"set to level {level}")

    def stop(self, pane):
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        seen = pane.wait_for("How hard?")
        pane.press("q")
        pane.wait_for("ended 0")
        self.bike.abandon()
        return seen

    def knob(self):
        store = sqlite3.connect(self.database)
        try:
            return store.execute("SELECT position, top FROM knob").fetchall()
        finally:
            store.close()

    def test_keys_set_the_level_and_it_is_remembered(self):
        pane = self.start()
        pane.wait_for("WARM-UP", *BY_FEEL, "set to level 1.0",
                      "Nobody measures power: go by feel, + and - set the level.")
        self.press(pane, "+", "2.0")
        self.press(pane, "+", "3.0")
        seen = pane.wait_for("WORK 1 OF 3", *BY_FEEL, "set to level 3.0", without=("reserve",))
        self.assertNotIn("target 224..250 W", seen)
        for level in range(4, 8):
            self.press(pane, "+", f"{level}.0")
        self.press(pane, "-", "6.0")
        pane.wait_for("REST 1 OF 3", "set to level 3.0")
        pane.wait_for("WORK 2 OF 3", "set to level 6.0")
        self.assertIn("nothing told the power", self.stop(pane))
        self.assertEqual(self.knob(), [(5, 23)])
        self.assertFalse(re.search("^< shift", self.journal(1), re.M))
        self.assertEqual(self.run_program("replay", self.write("first", self.journal(1))).status, 0)
        again = self.start()
        again.wait_for("WARM-UP", *BY_FEEL, "set to level 2.0")
        again.wait_for("WORK 1 OF 3", *BY_FEEL, "set to level 6.0")
        self.stop(again)
        self.assertEqual(self.knob(), [(5, 23)])
        self.assertEqual(self.run_program("replay", self.write("second", self.journal(2))).status,
                         0)


if __name__ == "__main__":
    main()
