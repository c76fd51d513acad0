"""What can go wrong, in words meant for the teacher.

Every refusal is one of these. Its text names the thing, says what was found and what to do;
the command line turns it into that text and the class's exit code, in one place.
"""


class CuekitError(Exception):
    """Root of all refusals."""

    exit_code = 1


class PatternError(CuekitError):
    """A pattern is unknown, or its file does not say what a pattern file must say."""

    exit_code = 3


class AudioError(CuekitError):
    """A sound file cannot be read or written, or holds nothing that can be used."""

    exit_code = 4


class DeviceError(CuekitError):
    """No loudspeaker or microphone can be used."""

    exit_code = 5


class NothingRecordedError(DeviceError):
    """A bout was stopped before any sound came in."""


class RecordError(CuekitError):
    """The stored records cannot be read or written."""

    exit_code = 6


def to_install(extra: str) -> str:
    """How to get the libraries of an extra, right for the program as installed and for a clone of it.

    Args:
        extra: its name in pyproject.toml, "screen".
    """
    return f'pip install "cuekit[{extra}]" (in a clone: pip install ".[{extra}]")'
