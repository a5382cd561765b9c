"""How far long work is, and only where somebody looks."""

from collections.abc import Iterator
from io import StringIO

from handoff.cli.progress import Progress


class Terminal(StringIO):
    def isatty(self) -> bool:
        return True


def progress_of(of: int, at_s: Iterator[float], stream: StringIO) -> Progress:
    return Progress(of, stream, at_s.__next__)


def test_says_how_many_sheets_are_made_and_the_time_left() -> None:
    stream = Terminal()
    progress = progress_of(4, iter([0, 2, 4]), stream)
    progress.step()
    progress.step()
    assert stream.getvalue() == (
        "\r\x1b[Ksheet 1 of 4, about 6 s left\r\x1b[Ksheet 2 of 4, about 4 s left"
    )


def test_takes_its_line_away() -> None:
    stream = Terminal()
    progress = progress_of(2000, iter([0, 2]), stream)
    progress.step()
    progress.close()
    assert stream.getvalue() == "\r\x1b[Ksheet 1 of 2,000, about 3,998 s left\r\x1b[K"


def test_says_nothing_of_a_second_of_work() -> None:
    stream = Terminal()
    progress = progress_of(2, iter([0, 0.4, 0.9]), stream)
    progress.step()
    progress.step()
    progress.close()
    assert not stream.getvalue()


def test_says_nothing_where_nobody_looks() -> None:
    stream = StringIO()
    progress = progress_of(2, iter([0, 20, 40]), stream)
    progress.step()
    progress.close()
    assert not stream.getvalue()


def test_says_what_is_counted() -> None:
    stream = Terminal()
    progress = Progress(0, stream, iter([0, 2]).__next__, what="patient")
    progress.of = 21  # known only when the ward was asked for
    progress.step()
    assert stream.getvalue() == "\r\x1b[Kpatient 1 of 21, about 40 s left"
