"""A program in a terminal of its own inside tmux: keys go in, what can be seen comes out."""
import os
import pathlib
import shlex
import shutil
import subprocess
import tempfile

from journey import DEADLINE_S, await_condition


class Pane:
    """Runs the program in a shell, which says 'ended STATUS' afterwards and stays."""

    def __init__(self, arguments, env, columns=80, rows=24, term=None):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="pane."))
        self.socket = str(self.folder / "tmux")
        self.modes = self.folder / "modes"
        self.pid_file = self.folder / "pid"
        words = " ".join(shlex.quote(str(word)) for word in arguments)
        # The program's own shell would be killed by what ends the program with a signal's status.
        script = (f"trap : INT; stty -a > {self.modes}.before; echo before the ride; "
                  f"{'TERM=' + term if term else ''} sh -c 'echo $$ > {self.pid_file}; exec \"$0\" "
                  f"\"$@\"' {words}; echo ended $?; stty -a > {self.modes}.after; exec sleep 1000")
        # tmux itself needs UTF-8, whatever the program is given.
        settings = [word for name in ("HOME", "LC_ALL", "NO_COLOR", "TZ", "TMPDIR",
                                      "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_RUNTIME_DIR",
                                      "ASAN_OPTIONS", "UBSAN_OPTIONS")
                    if name in env for word in ("-e", f"{name}={env[name]}")]
        subprocess.run(["tmux", "-u", "-S", self.socket, "-f", "/dev/null", "new-session", "-d",
                        "-x", str(columns), "-y", str(rows), *settings, "sh", "-c", script],
                       env=dict(os.environ, LC_ALL="C.UTF-8"), check=True, timeout=DEADLINE_S)
        self.tmux("set-option", "-g", "status", "off")
        self.tmux("resize-window", "-x", columns, "-y", rows)

    def tmux(self, *arguments):
        done = subprocess.run(["tmux", "-u", "-S", self.socket, *map(str, arguments)],
                              env=dict(os.environ, LC_ALL="C.UTF-8"), capture_output=True,
                              check=True, timeout=DEADLINE_S)
        return done.stdout.decode()

    def text(self, *options):
        return self.tmux("capture-pane", "-p", *options)

    def press(self, *keys):
        self.tmux("send-keys", *keys)

    def wait_for(self, *wanted, without=()):
        """Until all of it can be seen at once, and nothing of the rest; gives what is seen."""
        seen = ""

        def is_there():
            nonlocal seen
            seen = self.text()
            return all(text in seen for text in wanted) and not any(
                text in seen for text in without)

        try:
            await_condition(is_there, f"{wanted} without {without}")
        except AssertionError as failure:
            raise AssertionError(f"{failure}; seen:\n{seen}") from failure
        return seen

    def resize(self, columns, rows):
        self.tmux("resize-window", "-x", columns, "-y", rows)

    def flag(self, name):
        return self.tmux("display-message", "-p", f"#{{{name}}}").strip()

    @property
    def pid(self):
        await_condition(lambda: self.pid_file.exists() and self.pid_file.read_text(), "the program")
        return int(self.pid_file.read_text())

    def modes_are_back(self):
        after = pathlib.Path(f"{self.modes}.after")
        await_condition(lambda: after.exists() and after.read_text(), "the modes afterwards")
        return after.read_text() == pathlib.Path(f"{self.modes}.before").read_text()

    def is_over(self):
        """The program has ended, or never began; whoever is to reap it may take his time."""
        try:
            stat = pathlib.Path(f"/proc/{int(self.pid_file.read_text())}/stat").read_text()
            return stat.rpartition(")")[2].split()[0] == "Z"
        except (OSError, ValueError):
            return True

    def close(self):
        """And waits for the ride to let go of its bike: the next would find it under way."""
        subprocess.run(["tmux", "-S", self.socket, "kill-server"], capture_output=True, check=False,
                       timeout=DEADLINE_S)
        await_condition(self.is_over, "the program to end with its terminal")
        shutil.rmtree(self.folder, ignore_errors=True)
