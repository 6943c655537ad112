"""The commands. Only argparse is imported here; each command imports what it needs when it runs, so help is quick."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from types import FrameType

from rimside import __version__
from rimside.errors import Interrupted, RimsideError

DONE, INCOMPLETE, BAD_INPUT, FAULT, STOPPED = 0, 1, 2, 70, 130
"""Exit statuses: done; done, but something is uncast, broken or out of date; bad input; a fault of ours; Ctrl-C."""

ENDING = "Exit status: 0 done, 1 done but something is uncast, broken or out of date, 2 bad input, 130 stopped."


STOPPED_WORDS = "stopped; every file is as it was"

ASK_AGAIN_S = 0.02
"""A Ctrl-C that came while a module loads is looked at again after this long."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status. What a person can mend is told in one message, without a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    words = sys.argv[1:] if arguments is None else arguments
    options = _parser(words).parse_args(words)
    run: Callable[[argparse.Namespace], int] = options.run
    with _interrupts() as seen:
        try:
            status = run(options)
            sys.stdout.flush()
            return status
        except RimsideError as slip:
            return _tell(str(slip), BAD_INPUT)
        except KeyboardInterrupt:
            return _tell(STOPPED_WORDS, STOPPED)
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return DONE
        except Exception:
            if seen:
                # a library that is interrupted may raise an error of its own instead
                return _tell(STOPPED_WORDS, STOPPED)
            import traceback

            traceback.print_exc()
            return _tell("this is a fault in Rimside, not in your files; please report the lines above", FAULT)


@contextmanager
def _interrupts() -> Iterator[list[int]]:
    """Ctrl-C as Python handles it by itself, and a list that tells afterwards whether there was one.

    One that comes while a module loads waits until it has loaded: a library that is cut short there prints a
    traceback, raises an error of its own, or leaves half a module behind.
    """
    seen: list[int] = []
    again = _later()

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal again
        seen.append(number)
        again.cancel()
        if not _loading(frame):
            raise KeyboardInterrupt
        again = _later()
        again.start()

    usual = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if usual and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, note)
        try:
            yield seen
        finally:
            again.cancel()
            signal.signal(signal.SIGINT, signal.default_int_handler)
    else:
        yield seen


def _later() -> threading.Timer:
    """A timer that sends this program's own thread the signal of Ctrl-C again: a real one, which ends a wait."""
    main_thread = threading.get_ident()
    timer = threading.Timer(ASK_AGAIN_S, lambda: signal.pthread_kill(main_thread, signal.SIGINT))
    timer.daemon = True
    return timer


def _loading(frame: FrameType | None) -> bool:
    """Whether a frame, or one that called it, loads a module."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib."):
            return True
        frame = frame.f_back
    return False


def _tell(message: str, status: int) -> int:
    print(f"rimside: {message}", file=sys.stderr)
    return status


class _Help(argparse.RawDescriptionHelpFormatter):
    """Help as wide as the terminal, without the import that argparse needs to find that out."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_columns())


def _columns() -> int:
    try:
        return max(40, min(os.get_terminal_size(1).columns - 2, 118))
    except OSError:
        return 118


def _parser(words: Sequence[str] | None = None) -> argparse.ArgumentParser:
    """The parser of a command line; only the commands that stand in `words` get their options, all when None."""
    parser = argparse.ArgumentParser(
        prog="rimside",
        description="Plans music that many hands play inside one open grand piano: who, with what, from where, when.",
        epilog=ENDING,
        formatter_class=_Help,
    )
    parser.add_argument("--version", action="version", version=f"rimside {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    for name, (says, examples, add_options, run) in COMMANDS.items():
        if words is not None and name not in words:
            commands.add_parser(name, help=says, add_help=False)
            continue
        command = commands.add_parser(
            name,
            help=says,
            description=f"{says[0].upper()}{says[1:]}.",
            epilog=f"examples:\n{examples}\n\n{ENDING}",
            formatter_class=_Help,
        )
        add_options(command)
        if run is not None:
            command.set_defaults(run=run)
            _add_output(command)
    return parser


def _add_output(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print the result as JSON, without progress")
    command.add_argument("--quiet", action="store_true", help="print nothing but problems")


def _add_new(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", metavar="DIR", help="a folder that is empty or not there yet")


def _add_read(command: argparse.ArgumentParser) -> None:
    command.add_argument("source", metavar="DIR|SCORE", help="a production folder, or a score by itself")
    command.add_argument("--labels", metavar="SCHEME", help="how a score by itself names its pitches (scientific)")


def _add_cast(command: argparse.ArgumentParser) -> None:
    _add_folder(command)
    command.add_argument("--piano", metavar="NAME", help="a piano of the production (its first)")
    command.add_argument("--without", metavar="PLAYER", action="append", default=[], help="somebody absent; repeatable")
    close = command.add_mutually_exclusive_group()
    close.add_argument("--like", metavar="CASTING", help="an earlier casting, to be changed as little as possible")
    close.add_argument("--keep", metavar="CASTING", help="go on from it: anew is only what changed pins touch")
    command.add_argument("--seconds", metavar="N", type=float, help="how long it may think (production.toml, or 60)")
    command.add_argument("--seed", metavar="N", type=int, help="another seed tries another way (production.toml, or 1)")
    _add_progress(command)


def _add_tour(command: argparse.ArgumentParser) -> None:
    _add_folder(command)
    command.add_argument(
        "--absences",
        choices=("none", "each", "pairs"),
        default="each",
        help="who may be missing: nobody, any one (each), any two",
    )
    command.add_argument("--like", metavar="CASTING", help="the casting that all stay close to (its first piano's)")
    command.add_argument("--seconds", metavar="N", type=float, help="how long each cast may think (as for cast)")
    command.add_argument("--seed", metavar="N", type=int, help="as for cast")
    command.add_argument("--anew", action="store_true", help="cast again what is up to date")
    command.add_argument("--scheduler", metavar="ADDRESS", help="a cluster's, in place of two processes here")
    _add_progress(command)


def _add_book(command: argparse.ArgumentParser) -> None:
    _add_folder(command)
    which = command.add_mutually_exclusive_group()
    which.add_argument("--casting", metavar="NAME", help="a casting of the production (its first piano's)")
    which.add_argument("--all", action="store_true", help="one book for every casting")
    _add_progress(command)


def _add_measure(command: argparse.ArgumentParser) -> None:
    actions = command.add_subparsers(metavar="ACTION", required=True)
    for name, (says, examples, add_options, run) in MEASURE_ACTIONS.items():
        action = actions.add_parser(
            name,
            help=says,
            description=f"{says[0].upper()}{says[1:]}.",
            epilog=f"examples:\n{examples}\n\n{ENDING}",
            formatter_class=_Help,
        )
        add_options(action)
        _add_output(action)
        action.set_defaults(run=run)


def _add_markers(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE.pdf", help="the sheet to write")
    command.add_argument("--count", metavar="N", type=int, default=10, help="how many markers (10)")
    command.add_argument("--first", metavar="N", type=int, default=0, help="number of the first (0)")
    command.add_argument("--side", metavar="MM", type=float, default=60.0, help="side of a marker in mm (60)")
    command.add_argument("--paper", metavar="SIZE", default="a4", help="a4, a3 or letter (a4)")


def _add_photo(command: argparse.ArgumentParser) -> None:
    command.add_argument("job", metavar="JOB.toml", help="which pictures, which markers and points (docs/measure.md)")
    command.add_argument("--out", metavar="DIR", help="where to write (beside the job file)")
    _add_progress(command)


def _add_form(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE.pdf|FILE.toml", help="the printed form, or the file to fill in")
    command.add_argument("--like", metavar="PIANO", help="the shipped piano that is drawn (grand_210)")
    command.add_argument(
        "--sections", metavar="KEYS", help="the last key of each section, when counted: 20,40,53,67,88"
    )
    command.add_argument("--paper", metavar="SIZE", default="a4", help="a4 or letter (a4)")


def _add_tape(command: argparse.ArgumentParser) -> None:
    command.add_argument("readings", metavar="READINGS.toml", help="what was counted and measured (docs/measure.md)")
    command.add_argument("--out", metavar="SURVEY.toml", help="the survey to write (NAME.toml beside the readings)")


def _add_trace(command: argparse.ArgumentParser) -> None:
    command.add_argument("trace", metavar="TRACE.toml", help="the points marked on a picture (docs/measure.md)")
    command.add_argument("--out", metavar="SURVEY.toml", help="the survey to write (NAME.toml beside the trace)")


def _add_inside(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "survey", metavar="SURVEY", help="a survey file, or the name of a piano that comes with Rimside"
    )
    command.add_argument(
        "--of",
        metavar="TOPIC",
        choices=("strings", "nodes", "access", "magnets", "places"),
        help="strings, nodes, access, magnets or places; an overview when left out",
    )
    command.add_argument("--keys", metavar="KEYS", help="only these: A0,C4-E4")
    command.add_argument("--labels", metavar="SCHEME", help="how pitches are named here (scientific)")
    command.add_argument(
        "--strip", nargs=2, metavar=("KEYS", "FILE.pdf"), help="print the nodes of these keys as strips at true size"
    )
    command.add_argument("--sheet", choices=("a4", "a3", "letter"), default="a4", help="paper for the strips (a4)")
    command.add_argument(
        "--heard",
        nargs=4,
        metavar=("KEY", "PARTIAL", "HZ", "FIRST_HZ"),
        help="a measured partial and the first one: stiffness, wire and tension that follow",
    )
    command.add_argument(
        "--access", nargs=2, metavar=("HAND", "FILE"), help='draw what is open to "line bow", touch ... (pdf or svg)'
    )


def _add_build(command: argparse.ArgumentParser) -> None:
    command.add_argument("folders", metavar="DIR", nargs="+", help="production folders that share one kit")
    command.add_argument("--casting", metavar="NAME", help="a casting of each production (its first piano's)")
    command.add_argument("--shows", metavar="N", type=int, default=1, help="how many shows spares are for (1)")
    command.add_argument("--pdf", metavar="FILE.pdf", help="print the sheet for the workshop")
    command.add_argument("--csv", metavar="FILE.csv", help="write the list for a spreadsheet, with room for costs")


def _add_compare(command: argparse.ArgumentParser) -> None:
    _add_folder(command)
    command.add_argument("--piano", metavar="NAME", help="a piano of the production (its first)")
    command.add_argument("--with", metavar="NAME", dest="other", required=True, help="the piano to set beside it")
    command.add_argument("--pdf", metavar="FILE.pdf", help="print one plan over the other, and the table")


def _add_open(command: argparse.ArgumentParser) -> None:
    _add_folder(command)
    command.add_argument("--port", metavar="N", type=int, help="where it is served (8471, or the next that is free)")
    command.add_argument("--no-browser", action="store_true", help="serve only; open no window")
    command.add_argument("--share", action="store_true", help="let the players' phones on the local network follow")
    command.add_argument("--casting", metavar="NAME", help="the casting that is shown first (its first piano's)")
    command.add_argument("--export", metavar="FILE.html", help="serve nothing; write one file that plays from disc")


def _add_folder(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", metavar="DIR", help="a production folder")


def _add_progress(command: argparse.ArgumentParser) -> None:
    command.add_argument("--progress", action="store_true", help="show progress even when nobody watches a terminal")


def _new(options: argparse.Namespace) -> int:
    from rimside.files import scaffold
    from rimside.say import production, terminal

    made = scaffold.new(options.folder)
    terminal.show(options, lambda: production.new_text(options.folder, made), lambda: {"made": list(made)})
    return DONE


def _read(options: argparse.Namespace) -> int:
    from rimside.files import job
    from rimside.say import production, terminal
    from rimside.score import to_json

    reading = job.reading_of(options.source, options.labels)
    terminal.show(options, lambda: production.reading_text(reading), lambda: to_json.reading_json(reading))
    return DONE


def _cast(options: argparse.Namespace) -> int:
    from rimside.files import job
    from rimside.say import production, terminal

    absent = tuple(options.without)
    ready = job.prepare(
        options.folder, options.piano, absent, options.seconds, options.seed, options.like, options.keep
    )
    try:
        with terminal.progress(options) as report:
            done = job.cast(ready, report)
    except Interrupted as stopped:
        return _tell(job.keep_best(ready, stopped), STOPPED)
    terminal.show(options, lambda: production.cast_text(done), lambda: production.cast_table(done))
    return DONE if done.whole else INCOMPLETE


def _tour(options: argparse.Namespace) -> int:
    from rimside.files import tour
    from rimside.say import production, terminal

    plan = tour.Plan(
        absences=tour.Absences(options.absences),
        like=options.like,
        seconds=options.seconds,
        seed=options.seed,
        anew=options.anew,
        scheduler=options.scheduler,
    )
    try:
        with terminal.progress(options) as report:
            found = tour.tour(options.folder, plan, report)
    except Interrupted as stopped:
        return _tell(tour.stopped_words(stopped), STOPPED)
    terminal.show(options, lambda: production.tour_text(found), lambda: production.tour_table(found))
    return DONE if found.whole else INCOMPLETE


def _check(options: argparse.Namespace) -> int:
    from rimside.files import checkup
    from rimside.say import production, terminal

    found = checkup.check(options.folder)
    terminal.show(options, lambda: production.checkup_text(found), lambda: production.checkup_table(found))
    for slip in found.slips:
        _tell(slip, BAD_INPUT)
    if found.slips:
        return BAD_INPUT
    return DONE if found.whole else INCOMPLETE


def _book(options: argparse.Namespace) -> int:
    from rimside.files import job
    from rimside.say import production, terminal

    with terminal.progress(options) as report:
        books = job.books(options.folder, options.casting, options.all, report)
    terminal.show(options, lambda: production.books_text(books), lambda: production.books_table(books))
    return DONE if all(book.whole for book in books) else INCOMPLETE


def _build(options: argparse.Namespace) -> int:
    from rimside.files import building
    from rimside.say import build as say
    from rimside.say import terminal

    shop = building.workshop(options.folders, options.casting, options.shows)
    written = [str(building.write_sheet(shop, options.pdf))] if options.pdf else []
    written += [str(building.write_csv(shop, options.csv))] if options.csv else []
    made = tuple(written)
    terminal.show(options, lambda: say.build_text(shop, made), lambda: say.build_table(shop, made))
    return INCOMPLETE if shop.short or shop.notes else DONE


def _compare(options: argparse.Namespace) -> int:
    from rimside.files import comparing
    from rimside.say import compare as say
    from rimside.say import terminal

    done = comparing.beside(options.folder, options.piano, options.other, options.pdf)
    terminal.show(options, lambda: say.compare_text(done), lambda: say.compare_table(done))
    return INCOMPLETE if done.found.cannot else DONE


def _markers(options: argparse.Namespace) -> int:
    from rimside.files import sheets
    from rimside.say import terminal

    path = sheets.write_markers(options.file, options.count, options.first, options.side, options.paper)
    terminal.show(options, lambda: f"Printed {path}: measure its line and write that down", lambda: {"file": str(path)})
    return DONE


def _photo(options: argparse.Namespace) -> int:
    from rimside.files import measure_photo
    from rimside.say import measure_photo as say
    from rimside.say import terminal

    with terminal.progress(options) as report:
        made = measure_photo.measure(options.job, options.out, report)
    terminal.show(options, lambda: say.photo_text(made), lambda: say.photo_table(made))
    return DONE if not made.fit.doubts else INCOMPLETE


def _form(options: argparse.Namespace) -> int:
    from rimside.files import measure_tape
    from rimside.say import terminal

    path = measure_tape.write_form(options.file, options.like, options.sections, options.paper)
    terminal.show(options, lambda: f"Written: {path}", lambda: {"file": str(path)})
    return DONE


def _tape(options: argparse.Namespace) -> int:
    from rimside.files import measure_tape
    from rimside.say import measure_tape as say
    from rimside.say import terminal

    made = measure_tape.measure(options.readings, options.out)
    terminal.show(options, lambda: say.tape_text(made), lambda: say.tape_table(made))
    return DONE if made.whole else INCOMPLETE


def _trace(options: argparse.Namespace) -> int:
    from rimside.files import measure_tape
    from rimside.say import measure_tape as say
    from rimside.say import terminal

    made = measure_tape.trace(options.trace, options.out)
    terminal.show(options, lambda: say.tape_text(made), lambda: say.tape_table(made))
    return DONE if made.whole else INCOMPLETE


def _inside(options: argparse.Namespace) -> int:
    from rimside.files import inside
    from rimside.say import inside as say_inside
    from rimside.say import terminal

    looked = inside.look(options.survey, options.keys, options.labels)
    if options.heard:
        heard = inside.hear(looked, *options.heard)
        terminal.show(
            options, lambda: say_inside.heard_text(looked, *heard), lambda: say_inside.heard_table(looked, *heard)
        )
        return DONE
    paths = [inside.write_strips(looked, *options.strip, sheet=options.sheet)] if options.strip else []
    paths += [inside.write_access(looked, *options.access)] if options.access else []
    if paths and options.of is None:
        terminal.show(options, lambda: say_inside.written_text(paths), lambda: {"files": [str(path) for path in paths]})
        return DONE
    terminal.show(
        options,
        lambda: say_inside.inside_text(looked, options.of),
        lambda: say_inside.inside_table(looked, options.of),
    )
    return DONE


Options = Callable[[argparse.ArgumentParser], None]
Run = Callable[[argparse.Namespace], int]

MEASURE_ACTIONS: dict[str, tuple[str, str, Options, Run]] = {
    "markers": (
        "print the markers that are laid into the piano before it is photographed",
        "  rimside measure markers markers.pdf\n  rimside measure markers big.pdf --side 90 --paper a3 --count 6",
        _add_markers,
        _markers,
    ),
    "photo": (
        "make a plan in mm of photographs with markers or known points in them",
        "  rimside measure photo hall.toml\n  rimside measure photo hall.toml --out pictures",
        _add_photo,
        _photo,
    ),
    "form": (
        "print the form for a survey with a tape, or write the file to fill in",
        "  rimside measure form form.pdf\n  rimside measure form form.pdf --like grand_170 --paper letter\n"
        "  rimside measure form hall-readings.toml --sections 21,41,56,70,88",
        _add_form,
        _form,
    ),
    "tape": (
        "make a survey of tape readings, and say what is assumed, what contradicts and how sure it is",
        "  rimside measure tape hall-readings.toml\n  rimside measure tape hall-readings.toml --out pianos/hall.toml",
        _add_tape,
        _tape,
    ),
    "trace": (
        "make a survey of points marked on a picture in mm, with readings for what no picture shows",
        "  rimside measure trace hall-marks.toml\n  rimside measure trace hall-marks.toml --out pianos/hall.toml",
        _add_trace,
        _trace,
    ),
}
"""What `measure` can do."""


def _open(options: argparse.Namespace) -> int:
    from rimside.say import page

    return page.exported(options) if options.export else page.opened(options)


COMMANDS: dict[str, tuple[str, str, Options, Run | None]] = {
    "new": (
        "make a production to fill in, with commented examples",
        "  rimside new spring-concert",
        _add_new,
        _new,
    ),
    "read": (
        "show the score as notes and figures, and list what was not understood",
        "  rimside read spring-concert\n  rimside read spring-concert/score.csv --json\n"
        "  rimside read sketch.musicxml --labels ordinal",
        _add_read,
        _read,
    ),
    "cast": (
        "decide who plays what, with what, from where, and prove how good that is",
        "  rimside cast spring-concert\n  rimside cast spring-concert --piano grand_210 --seconds 120\n"
        "  rimside cast spring-concert --without Bo\n"
        "  rimside cast spring-concert --piano grand_210 --like grand_275\n"
        "  rimside cast spring-concert --keep grand_275",
        _add_cast,
        _cast,
    ),
    "measure": (
        "survey a piano by photographs or with a tape",
        "  rimside measure form form.pdf\n  rimside measure tape hall-readings.toml\n"
        "  rimside measure markers markers.pdf\n  rimside measure photo hall.toml\n"
        "  rimside measure trace hall-marks.toml",
        _add_measure,
        None,
    ),
    "tour": (
        "cast every piano with everybody and without each one, and say what can be played and what changes",
        "  rimside tour spring-concert\n  rimside tour spring-concert --absences pairs --like grand_275\n"
        "  rimside tour spring-concert --scheduler tcp://10.0.0.5:8786",
        _add_tour,
        _tour,
    ),
    "inside": (
        "tell what is inside a piano: strings, nodes, what is open to hands, magnets, places; and print node strips",
        "  rimside inside grand_210\n  rimside inside pianos/hall.toml --of nodes --keys C3,C4-E4\n"
        "  rimside inside grand_210 --strip C4,G4 strips.pdf\n"
        '  rimside inside grand_210 --access "line bow" access.pdf',
        _add_inside,
        _inside,
    ),
    "compare": (
        "set one piano beside another: what the piece needs, and what it finds there",
        "  rimside compare spring-concert --with grand_170\n"
        "  rimside compare spring-concert --piano grand_210 --with grand_170 --pdf two-pianos.pdf",
        _add_compare,
        _compare,
    ),
    "build": (
        "list the kit that castings need: sizes, labels, spares, and what is there already",
        "  rimside build spring-concert --shows 6\n  rimside build spring-concert autumn-concert --pdf workshop.pdf\n"
        "  rimside build spring-concert --csv kit-list.csv",
        _add_build,
        _build,
    ),
    "check": (
        "check every input file, and every casting against the rules H1 to H12",
        "  rimside check spring-concert\n  rimside check spring-concert --json",
        _add_folder,
        _check,
    ),
    "book": (
        "print what the players and the stage need, as PDF files in the folder book",
        "  rimside book spring-concert\n  rimside book spring-concert --casting grand_210--without-bo\n"
        "  rimside book spring-concert --all",
        _add_book,
        _book,
    ),
    "open": (
        "show the piece inside the piano, change it, and lead a rehearsal, in the browser",
        "  rimside open spring-concert\n  rimside open spring-concert --share\n"
        "  rimside open spring-concert --casting grand_210 --export spring.html",
        _add_open,
        _open,
    ),
}
"""Every command: what it does, examples, its options, and what runs it (None: one of its actions does)."""


if __name__ == "__main__":
    sys.exit(main())
