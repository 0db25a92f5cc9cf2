"""Speed of the lesson as a ratio within one run: a control's update against a bare redraw of the fill picture."""

import itertools
import time

import pytest


def best(action, repeat=7):
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def test_a_controls_update(benchmark):
    from matplotlib.figure import Figure

    from calc.fill.filling import filled
    from calc.lesson.projector import SCENES
    from calc.lesson.scene import Classroom
    from calc.show.dose.figures import fill_picture
    from calc.show.drawing import redraw_bare

    figure = Figure()
    fill_picture(filled(d_0=20.0, phi=16.0, l_v=200.0, volume=2.3e4), figure=figure)
    bare = best(lambda: redraw_bare(figure))
    slowest = {}
    for kind in SCENES:
        scene = kind(Classroom())
        scene.set_stage("try")
        for name in scene.ranges:
            slider = scene.fields[f"{name}_slider"]
            places = itertools.cycle(slider.min + share * (slider.max - slider.min) for share in (0.2, 0.45, 0.7, 0.95))
            slowest[kind.key, name] = best(
                lambda slider=slider, places=places: setattr(slider, "value", next(places)), repeat=8
            )
            assert scene.message == ""
    (key, name), longest = max(slowest.items(), key=lambda item: item[1])
    push = next(kind for kind in SCENES if kind.key == "push")(Classroom())
    push.set_stage("try")
    depths = itertools.cycle(range(0, 200, 7))
    benchmark.pedantic(lambda: setattr(push.fields["depth_slider"], "value", float(next(depths))), rounds=15)
    print(
        f"\none update of the bar's depth: {benchmark.stats.stats.min / bare:.4f} times a bare redraw of the fill"
        " picture"
    )
    print(f"the slowest control ({key}, {name}): {longest / bare:.4f} times a bare redraw of the fill picture")
    assert longest / bare < 2


if __name__ == "__main__":
    pytest.main([__file__, "-s", "-q"])
