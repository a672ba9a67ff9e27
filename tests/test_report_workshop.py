"""The process that draws: what it draws is what is drawn here, and it comes, goes and fails in order."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress

import psutil
import pytest
from advice_world import at, flat_picture

from dawnlevel.errors import BadInputError
from dawnlevel.report.chart import day_template, picture_svg
from dawnlevel.report.chart_rows import shape_of
from dawnlevel.report.day_fill import filled
from dawnlevel.report.look import ON_PAPER
from dawnlevel.report.workshop import Workshop, function_of

TEMPLATE = "dawnlevel.report.chart:day_template"
SVG = "dawnlevel.report.workshop:svg_of"
PATIENCE_S = 60.0


@pytest.fixture
def workshop() -> Iterator[Workshop]:
    made = Workshop()
    yield made
    made.close()


def has_ended(pid: int) -> bool:
    with suppress(psutil.NoSuchProcess):
        psutil.Process(pid).wait(PATIENCE_S)
    return not psutil.pid_exists(pid)


def test_what_is_drawn_there_is_what_is_drawn_here(workshop: Workshop) -> None:
    picture, lights_on = flat_picture(20.0), at(13)
    template = workshop.run(TEMPLATE, shape_of(picture, lights_on), ON_PAPER)
    assert template == day_template(shape_of(picture, lights_on), ON_PAPER)
    drawn = workshop.run(SVG, filled(template, picture, "Brook", "", lights_on, ON_PAPER))
    assert drawn == picture_svg(picture, "Brook", lights_on, ON_PAPER)
    assert workshop.pid not in (None, os.getpid())


def test_an_error_there_comes_back_whole(workshop: Workshop) -> None:
    with pytest.raises(BadInputError) as told:
        workshop.run("dawnlevel.report.brand:read_brand", "Brook", b"no picture", "mark.png")
    here = told.value
    assert (here.what, here.where, here.cure) != ("", "", "")
    assert str(here).startswith(here.where or here.what)
    assert workshop.pid is not None  # it goes on


def test_nothing_but_our_own_work_is_done(workshop: Workshop) -> None:
    for name in ("os:getcwd", "dawnlevel.store:open_store", "dawnlevel.report:none"):
        with pytest.raises(ValueError, match="no work for the workshop"):
            function_of(name)
        with pytest.raises(ValueError, match="no work for the workshop"):
            workshop.run(name)


def test_a_process_ended_from_outside_is_no_loss(workshop: Workshop) -> None:
    shape = shape_of(flat_picture(20.0), at(13))
    expected = workshop.run(TEMPLATE, shape, ON_PAPER)
    pid = workshop.pid
    assert pid
    os.kill(pid, signal.SIGKILL)
    assert has_ended(pid)
    assert workshop.run(TEMPLATE, shape, ON_PAPER) == expected


def test_it_ends_when_nothing_is_asked_of_it() -> None:
    workshop = Workshop(idle_s=0.05)
    workshop.run(TEMPLATE, shape_of(flat_picture(20.0), at(13)), ON_PAPER)
    pid = workshop.pid
    assert pid is None or has_ended(pid)  # a slow machine may come back to it after its end
    assert workshop.run(TEMPLATE, shape_of(flat_picture(20.0), at(13)), ON_PAPER)
    workshop.close()


def test_it_ends_with_the_program_that_started_it() -> None:
    code = (
        "import os; from dawnlevel.report.workshop import WORKSHOP as w;"
        "w.run('dawnlevel.report.workshop:function_of', 'dawnlevel.report.workshop:svg_of');"
        "print(w.pid, flush=True); os._exit(1)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert has_ended(int(done.stdout)), done.stderr


def test_the_pages_load_no_drawing_library() -> None:
    code = (
        "import sys, dawnlevel.web.app;"
        "print([name for name in ('altair', 'vl_convert', 'typst') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
