"""A microphone without a microphone: a PulseAudio server of our own, with a null sink as its only device.

What `play` plays into the sink is heard by PortAudio through ALSA's default device. Server, sockets and
configuration live in one folder; nothing of the machine's own sound system is used or changed. Linux only.
"""

import ctypes.util
import os
import shutil
import subprocess
import time
from pathlib import Path

_MODULE = "module-null-sink"
_START_S = 10.0


def missing_part() -> str | None:
    """What keeps a private server from running here, or None."""
    for program in ("pulseaudio", "paplay", "pactl"):
        if shutil.which(program) is None:
            return f"{program} is not installed (Debian: pulseaudio, pulseaudio-utils)"
    if ctypes.util.find_library("portaudio") is None:
        return "PortAudio is not installed (Debian: libportaudio2)"
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's way to PulseAudio is not installed (Debian: libasound2-plugins)"
    return None


class PrivatePulse:
    """The server. Programs hear it when they run in the environment `environ`."""

    def __init__(self, folder: Path) -> None:
        runtime, home, socket = folder / "run", folder / "home", folder / "socket"
        runtime.mkdir(mode=0o700)
        home.mkdir()
        config = folder / "asound.conf"
        config.write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
        self.environ = {
            **os.environ,
            "HOME": str(home),
            "XDG_RUNTIME_DIR": str(runtime),
            "PULSE_RUNTIME_PATH": str(runtime / "pulse"),
            "PULSE_SERVER": f"unix:{socket}",
            "ALSA_CONFIG_PATH": str(config),
        }
        # As root PulseAudio only warns. `-n`: no script of the machine's own, so no other device.
        options = ["-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"]
        listen = f"module-native-protocol-unix socket={socket} auth-anonymous=1"
        with (folder / "pulse.log").open("wb") as log:
            self._server = subprocess.Popen(
                ["pulseaudio", *options, "-L", listen], env=self.environ, stdout=log, stderr=log
            )
        self._wait_until_up()
        self.plug_in()

    def plug_in(self) -> None:
        """Give the sink (and so the microphone that hears it) to the server."""
        # Without rewinds the sink works in steps of 50 ms, with them in steps of 2 s.
        self._control("load-module", _MODULE, "sink_name=voicelog", "norewinds=1")

    def unplug(self) -> None:
        """Take it away; whoever listens is cut off."""
        self._control("unload-module", _MODULE)

    def play(self, path: Path) -> None:
        """Play a sound file into the sink, to its end."""
        subprocess.run(["paplay", str(path)], env=self.environ, check=True, timeout=60)

    def close(self) -> None:
        """Stop the server."""
        self._server.terminate()
        self._server.wait(5)

    def _wait_until_up(self) -> None:
        deadline_s = time.monotonic() + _START_S
        while not self._answers():
            if self._server.poll() is not None or time.monotonic() > deadline_s:
                self._server.kill()
                raise RuntimeError(f"pulseaudio did not start (exit status {self._server.wait()})")
            time.sleep(0.05)

    def _answers(self) -> bool:
        found = subprocess.run(["pactl", "info"], env=self.environ, capture_output=True, timeout=10)
        return found.returncode == 0

    def _control(self, *command: str) -> None:
        subprocess.run(["pactl", *command], env=self.environ, check=True, capture_output=True, timeout=10)
