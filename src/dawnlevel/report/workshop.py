"""A process of its own for drawing and typesetting, which ends when nothing has been asked of it for a while.

The libraries that draw take some hundred megabytes. A server that runs day and night has them only while
somebody looks: `run` sends a function's name and arguments there and gives back what it returns. Where no
such process can be had, the work is done here.

`python -m dawnlevel.report.workshop` is that process: it reads pickled jobs from its input and writes pickled
answers to its output, both of which belong to the program that started it, and ends with them.
"""

import atexit
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from typing import IO, Any

IDLE_S = 180.0
"""How long it is kept after its last job [s]; an open Today asks once a minute (judgement)."""
_OURS = "dawnlevel.report."


def function_of(name: str) -> Callable[..., Any]:
    """The function called `module:name`; ValueError where it is none of this package's."""
    module, _, function = name.partition(":")
    if not module.startswith(_OURS):
        message = f"{name!r} is no work for the workshop"
        raise ValueError(message)
    found: Callable[..., Any] = getattr(import_module(module), function)
    return found


class Workshop:
    """The process, started when first needed. One job at a time; may be called from any thread."""

    def __init__(self, idle_s: float = IDLE_S) -> None:
        self._idle_s = idle_s
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._ends: threading.Timer | None = None

    @property
    def pid(self) -> int | None:
        """The process's number; None where none runs."""
        return None if self._process is None else self._process.pid

    def run(self, name: str, *args: object) -> Any:  # noqa: ANN401 - what the named function returns
        """What the function `name` returns for `args`; raises what it raises."""
        with self._lock:
            try:
                is_done, answer = self._asked(name, args)
            except (OSError, EOFError, pickle.UnpicklingError):
                self._close()  # it could not start, or was ended from outside
                return function_of(name)(*args)
            self._end_later()
        if not is_done:
            raise answer
        return answer

    def close(self) -> None:
        """End the process; the next job starts another."""
        with self._lock:
            self._close()

    def _asked(self, name: str, args: tuple[object, ...]) -> tuple[bool, Any]:
        jobs, answers = self._pipes()
        pickle.dump((name, args), jobs)
        jobs.flush()
        answer: tuple[bool, Any] = pickle.load(answers)  # noqa: S301 - our own process's answer
        return answer

    def _pipes(self) -> tuple[IO[bytes], IO[bytes]]:
        process = self._process or self._started()
        if process.stdin is None or process.stdout is None:
            raise EOFError
        return process.stdin, process.stdout

    def _started(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", __name__]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)  # noqa: S603 - our own
        return self._process

    def _end_later(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
        self._ends = threading.Timer(self._idle_s, self.close)
        self._ends.daemon = True
        self._ends.start()

    def _close(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
        process, self._process, self._ends = self._process, None, None
        if process is None:
            return
        for stream in (process.stdin, process.stdout):
            if stream:
                with suppress(OSError):  # it may be gone already
                    stream.close()
        with suppress(subprocess.TimeoutExpired):
            process.wait(5.0)


WORKSHOP = Workshop()
"""The program's one; it holds no state but the process."""
atexit.register(WORKSHOP.close)


def svg_of(spec: dict[str, Any]) -> str:
    """A Vega-Lite specification as SVG."""
    import vl_convert  # noqa: PLC0415 - takes a moment and much memory to load

    drawn: str = vl_convert.vegalite_to_svg(spec)
    return drawn


def serve(jobs: IO[bytes], answers: IO[bytes]) -> None:
    """Do jobs until there are no more."""
    while True:
        try:
            name, args = pickle.load(jobs)  # noqa: S301 - from the program that started this
        except EOFError:
            return
        try:
            answer = (True, function_of(name)(*args))
        except Exception as error:  # noqa: BLE001 - it is told to who asked
            answer = (False, error)
        pickle.dump(answer, answers)
        answers.flush()


def main() -> None:
    """Serve the program that started this; Ctrl-C is for that program, whose end ends this."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = sys.stdout.buffer
    sys.stdout = sys.stderr  # what a library prints is no answer
    serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    main()
