"""Work that is begun now, in a process of its own, and asked for later."""

from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any

_context = get_context("fork")


class Ahead:
    """Runs `function(*arguments)` beside the caller; as a context it ends the process when its answer is not wanted.

    No threads: the caller may go on to fork workers of its own.
    """

    def __init__(self, function: Callable[..., Any], *arguments: Any) -> None:
        self._receive, send = _context.Pipe(duplex=False)
        self._process = _context.Process(target=_run, args=(send, function, arguments))
        self._process.start()
        send.close()

    def __enter__(self) -> "Ahead":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.terminate()
        self._process.join()
        self._receive.close()

    def answer(self) -> Any:
        """Wait for the answer. Raises what the function raised, or EOFError when its process ended without a word."""
        answered, value = self._receive.recv()
        self._process.join()
        if not answered:
            raise value
        return value


def _run(send: Connection, function: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    try:
        send.send((True, function(*arguments)))
    except Exception as error:  # handed to the caller, whose error it is
        send.send((False, error))
    finally:
        send.close()
