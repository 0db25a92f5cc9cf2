"""No label crosses another, a line or the frame; every picture is drawn at the size it is printed, in 8 points."""

import pytest
from drawnboxes import letters, touching, watched
from drawnjobs import SIZES, draw_all, many_groups

from calc.base.display import METRIC, display_of
from calc.base.look.tokens import LETTER, PICTURE_WIDTH
from calc.files.job import demo_job
from calc.fill.filling import filled
from calc.show.dose.figures import fill_picture
from calc.work.load import load_job
from calc.work.results import compute


def seen(draw, *, most=None):
    """Draw, and return what is wrong with each figure."""
    found, count = [], 0

    def look(figure):
        nonlocal count
        count += 1
        wide = 25.4 * figure.get_size_inches()[0]
        found.extend(touching(figure))
        if abs(wide - PICTURE_WIDTH) > 0.01 or letters(figure) < LETTER["picture"]:
            found.append(f"{wide:.1f} mm wide, letters of {letters(figure)} points")

    with watched(look):
        draw()
    return found, count


@pytest.mark.parametrize("demo", ["metric", "us", "failing"])
def test_the_figures_of_a_demo(demo):
    found, count = seen(lambda: draw_all(compute(load_job(demo_job(demo)))))
    assert not found
    assert count > 15


@pytest.mark.parametrize(("groups", "mark"), [(1, "A"), (7, "grid {} north face")])
def test_the_figures_of_other_jobs(tmp_path, groups, mark):
    found, count = seen(lambda: draw_all(compute(load_job(many_groups(tmp_path / "job", groups, mark)))))
    assert not found
    assert count > 12


@pytest.mark.parametrize(("phi", "d_0"), SIZES[::5])
@pytest.mark.parametrize("display", [METRIC, display_of("us")], ids=["metric", "us"])
def test_the_hole_in_other_sizes(phi, d_0, display):
    assert not seen(lambda: holes(phi, d_0, display, depths=(6, 20)))[0]


def holes(phi, d_0, display, depths):
    """Draw holes of so many diameters of depth, short, just full and overflowing, in all directions."""
    for depth in depths:
        need = 3.1416 / 4 * (d_0**2 - phi**2) * depth * phi
        for share, direction in ((0.6, "down"), (1.0, "overhead"), (1.3, "horizontal"), (2.5, "down")):
            one = filled(volume=share * need, phi=float(phi), l_v=float(depth * phi), d_0=float(d_0))
            fill_picture(one, display=display, direction=direction, title="A1: a bar in its hole")
