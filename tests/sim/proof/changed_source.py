"""Run and translate a module with one piece of its text changed, and put it back afterwards.

The functions keep their identity and only take on the changed code, so everything that imported them sees
the change.
"""

import inspect
import linecache
from collections.abc import Iterator
from contextlib import contextmanager
from types import FunctionType, ModuleType


@contextmanager
def changed(module: ModuleType, old: str, new: str) -> Iterator[None]:
    text = inspect.getsource(module)
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {module.__name__}"
    file = f"<{module.__name__} with {new!r}>".replace("/", "|")
    text = text.replace(old, new)
    linecache.cache[file] = (len(text), None, text.splitlines(keepends=True), file)
    fresh: dict[str, object] = {"__name__": module.__name__}
    exec(compile(text, file, "exec"), fresh)
    kept = {}
    for name, value in vars(module).items():
        other = fresh.get(name)
        if isinstance(value, FunctionType) and isinstance(other, FunctionType) and value.__module__ == module.__name__:
            kept[value] = value.__code__
            value.__code__ = other.__code__
    try:
        yield
    finally:
        for function, code in kept.items():
            function.__code__ = code
        del linecache.cache[file]
