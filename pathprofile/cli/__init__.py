"""The command line: one file a command; parse, call, show, exit code."""

from __future__ import annotations

import contextlib
import gc
import os
import sys

__all__ = ["main"]

_INTERRUPTED = 130


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; errors end as one line on standard error and exit code 2."""
    gc.set_threshold(50_000, 20, 50)  # loading modules leaves nothing to collect, so look for it less often
    given = sys.argv[1:] if arguments is None else list(arguments)
    debug = "--debug" in given
    given = [word for word in given if word != "--debug"]
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a degree sign still gets an answer
    try:
        code = _run(given or ["--help"])
        print(end="", flush=True)  # a full disk shows here, not while the interpreter exits
        sys.exit(code)
    except KeyboardInterrupt:
        if debug:
            raise
        _complain("stopped")
        sys.exit(_INTERRUPTED)
    except BrokenPipeError:
        _drop_output()  # the reader of our output has gone; say nothing more
        sys.exit(1)
    except Exception as error:
        if debug:
            raise
        if isinstance(error, OSError):
            _drop_output()
        _complain(_one_line(error))
        sys.exit(2)


def _run(given: list[str]) -> int:
    # Models need no plugins: looking for them reads every installed package, and would run code of theirs.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    from pathprofile.cli.app import app

    result = app(args=given, prog_name="pathprofile", standalone_mode=False)
    if result == _INTERRUPTED:
        raise KeyboardInterrupt  # typer made an exit code of it
    return result if isinstance(result, int) else 0


def _one_line(error: Exception) -> str:
    from pathprofile.errors import PathProfileError

    usage = getattr(error, "format_message", None)  # a wrong command line, by whichever click typer carries
    if usage is not None:
        asked = getattr(error, "ctx", None)
        hint = f" (see '{asked.command_path} --help')" if asked is not None else ""
        return " ".join(usage().split()) + hint
    if isinstance(error, PathProfileError):
        return " ".join(str(error).split())
    if isinstance(error, OSError):
        where = "the answer" if error.filename is None else repr(error.filename)
        return f"cannot read or write {where}: {error.strerror or error}"
    what = " ".join(str(error).split())
    return f"unexpected {type(error).__name__}: {what} (run again with --debug and report it)"


def _complain(text: str) -> None:
    from pathprofile.cli.width import shown  # whatever was read may stand in the text

    print(f"pathprofile: {shown(text)}", file=sys.stderr)


def _drop_output() -> None:
    """Send what is still buffered nowhere, so that the interpreter does not try again while it exits."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
