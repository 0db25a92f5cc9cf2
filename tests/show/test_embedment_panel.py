"""The panel of embedment: one call for what the fields say, a sentence for what cannot be.

Keys of one bar group saved.
"""

import shutil
from html import unescape

import pytest

from calc.base.units import convert
from calc.files.design import concrete_span
from calc.files.job import demo_job
from calc.show.embedment import panel as embedment_panel
from calc.show.embedment.panel import EmbedmentPanel
from calc.strength.codes import ACI, EN04, EN23
from calc.strength.short import bar as shortbar
from calc.strength.short import formulas as short
from calc.work.embedment.group import design, ring_of
from calc.work.embedment.work import design_job
from calc.work.load import load_job
from calc.work.results import compute


@pytest.fixture
def job(tmp_path):
    shutil.copytree(demo_job().parent, tmp_path / "job")
    return load_job(tmp_path / "job")


@pytest.fixture
def us(tmp_path):
    shutil.copytree(demo_job("us").parent, tmp_path / "us")
    return load_job(tmp_path / "us")


@pytest.fixture
def panel(job):
    return EmbedmentPanel(job)


def put(panel, **values):
    for name, value in values.items():
        panel.fields[name].value = value


@pytest.mark.parametrize("units", ["metric", "us"])
def test_it_opens_with_each_group_as_the_notebook_designs_it(units):
    job = load_job(demo_job(units))
    panel = EmbedmentPanel(job)
    part = design_job(job)
    for one in part.designs:
        put(panel, group=one.case.mark)
        assert panel.message == ""
        assert panel.result.sheet == one.sheet, one.case.mark
        assert (panel.result.required, panel.result.least_dose) == (one.required, one.least_dose)
        assert one.case.display.length(one.required) in panel.output.value
        assert len(panel.pictures) == 3
        assert all(picture.svg in panel.output.value for picture in panel.pictures)
    for mark in part.not_designed:
        put(panel, group=mark)
        assert panel.message.startswith("Design force: the field is empty")


def test_one_update_is_one_call_with_what_the_fields_say(panel, monkeypatch):
    calls = []
    monkeypatch.setattr(embedment_panel, "design", lambda case: calls.append(case) or design(case))
    put(
        panel,
        force="12 kN",
        concrete="25 MPa",
        bond="poor",
        cover="80 mm",
        spacing="250 mm",
        member_thickness="300 mm",
        embedment="180 mm",
    )
    assert len(calls) == 7
    case = calls[-1]
    assert (
        case["force"],
        case["f_ck"],
        case["bond"],
        case["cover"],
        case["spacing"],
        case["member_thickness"],
        case.embedment,
    ) == (
        12000.0,
        25.0,
        "poor",
        80.0,
        250.0,
        300.0,
        180.0,
    )
    for name in ("force", "f_ck", "bond", "cover", "spacing", "member_thickness", "embedment"):
        assert str(case.origin(name)) == "typed in the panel", name
    assert str(case.origin("f_yk")) == "job.toml, design.f_yk"
    assert str(case.origin("approval.k_b")) == "job.toml, design.approval.k_b"
    assert case.required_volume > design_job(panel.job).get("S1").case.required_volume


def test_more_force_needs_more_length_and_a_short_bar_fails_in_words(panel):
    before = panel.result.required
    put(panel, force="20 kN")
    assert panel.result.required > before
    said = unescape(panel.output.value)
    assert "✗ FAILS; the embedment that would do is 230 mm (schedule: 110 mm)" in said
    put(panel, embedment="230 mm")
    assert panel.result.sheet.checks[0].passes
    assert "The other 5 checks" not in panel.output.value  # the member is too thin for it
    assert "member behind the hole" in panel.output.value.split("<svg")[0]
    put(panel, force="100 kN/m")  # at 200 mm
    assert panel.result.force == pytest.approx(20000.0)


def test_missing_adhesive_is_what_the_loss_table_says(panel):
    put(panel, group="W4", missing="2 mL")
    one = panel.result
    (row,) = shortbar.loss_table(law=one.law, V_short=[2000.0], d_0=25.0, l_v=300.0, N_Ed=one.force)
    assert panel.loss == row
    left, full = (one.case.display.force(force) for force in (row.N_R, one.capacity_full))
    assert f"{left} of {full} are left" in panel.output.value
    assert f'<div class="dp-dose">{left}</div>' in panel.output.value
    assert short.ASSUMPTION in panel.output.value.split("<svg")[0]
    assert short.NOT_CONFORMING in panel.output.value.split("<svg")[0]
    assert "still reached" in panel.output.value
    put(panel, missing_slider=50.0)
    assert panel.loss.u == pytest.approx(150.0, rel=5e-3)
    assert "NOT reached" in panel.output.value
    put(panel, missing="0.5 in³")
    assert panel.loss.V_short == pytest.approx(convert(0.5, "in³", "mm³"))
    assert panel.fields["missing_slider"].value == pytest.approx(
        100 * panel.loss.V_short / ring_of(panel._group), abs=0.5
    )


def test_another_edition_wants_its_own_approval_values(panel):
    put(panel, group="W3", code=EN23)
    assert "Bond factor of the approval: the key is missing" in panel.message
    assert "never assumed" in panel.message
    assert panel.result is None
    put(panel, bond_factor="0.9", alpha_lb="1.5")
    assert panel.result.case.code == EN23
    assert panel.result.required == pytest.approx(10 * 16 * 1.5)  # the least length decides
    put(panel, code=EN04)
    assert panel.result.sheet == design_job(panel.job).get("W3").sheet


def test_aci_takes_the_strengths_under_its_own_names(panel):
    put(panel, group="W3", code=ACI)
    case = panel.result.case
    assert (case["f_c"], case["f_y"], case["f_ck"], case["approval.k_b"]) == (30.0, 500.0, None, None)
    assert panel.fields["bond_factor"].disabled
    put(panel, group="W4", code=ACI)
    assert panel.message.startswith("Surface of the joint")
    put(panel, surface="roughened")
    assert panel.result.joint is not None
    put(panel, code=EN04)
    assert panel.fields["surface"].value == "rough"


@pytest.mark.parametrize("code", [EN04, EN23, ACI])
def test_the_label_and_the_refusal_name_one_range(panel, code):
    """A strength that no concrete has is refused with the range that stands beside the field."""
    put(panel, code=code)
    label = panel.fields["concrete"].description
    span = concrete_span(code)
    assert label.endswith(f", {span}")
    for text in ("3 MPa", "130 MPa" if code != ACI else "150 MPa", "2500 MPa"):
        put(panel, concrete=text)
        assert f"accepted: from {span}" in panel.message, text


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"force": "8,5 kN"}, "Design force: '8,5 kN' has a comma"),
        ({"force": "8"}, "Design force: '8' has no unit"),
        ({"force": "lots"}, "Design force: 'lots'"),
        ({"force": "-3 kN"}, "Design force: '-3 kN' is out of range"),
        ({"force": "5 mm"}, "Design force: '5 mm'"),
        ({"force": "900 kN"}, "stress above yield"),
        ({"force": "<b>8</b>"}, "'<b>8</b>'"),
        (
            {"concrete": "5 MPa"},
            "Concrete strength: '5 MPa' is a concrete strength outside what EN 1992-1-1:2004 covers",
        ),
        ({"concrete": "30"}, "Concrete strength: '30' has no unit"),
        ({"bond": ""}, "Bond condition: the key is missing"),
        ({"cover": "1 mm"}, "Cover: '1 mm' is impossible"),
        ({"cover": "nan mm"}, "Cover: 'nan mm'"),
        ({"spacing": "10 mm"}, "Spacing: '10 mm' is impossible"),
        ({"spacing": "200 MPa"}, "Spacing: '200 MPa'"),
        ({"member_thickness": "0 mm"}, "Old member: '0 mm' is out of range"),
        ({"embedment": "20 m"}, "Embedment: '20 m' is too large"),
        ({"embedment": "110"}, "Embedment: '110' has no unit"),
        ({"bond_factor": "1.2"}, "Bond factor of the approval: '1.2' is out of range"),
        ({"bond_factor": "0,9"}, "Bond factor of the approval: '0,9' has a comma"),
        ({"missing": "1"}, "Adhesive missing: '1' has no unit"),
        ({"missing": "-1 mL"}, "Adhesive missing: '-1 mL'"),
    ],
)
def test_a_wrong_entry_shows_a_sentence_in_place_of_the_result(panel, values, said):
    put(panel, **values)
    assert said in panel.message
    assert panel.message.endswith(".")
    assert (panel.result, panel.loss, panel.pictures) == (None, None, ())
    assert said in unescape(panel.output.value)
    assert "<svg" not in panel.output.value
    assert "<b>8" not in panel.output.value
    put(panel, group="B6")
    assert panel.result is not None


def test_save_writes_the_keys_of_one_group_and_the_embedment(panel, job):
    others = {one.case.mark: one.required for one in design_job(job).designs if one.case.mark != "W3"}
    put(panel, group="W3", force="40 kN", cover="80 mm", bond_factor="0.9", embedment="255 mm")
    wanted = panel.result
    panel.save.click()
    again = load_job(job.path)
    own = again.design.group["W3"]
    assert (own.force, own.force_per_length, own.cover, own.approval.k_b) == (40000.0, None, 80.0, 0.9)
    assert again.group("W3").embedment == 255.0
    found = {one.case.mark: one for one in design_job(again).designs}
    assert found["W3"].required == pytest.approx(wanted.required)
    assert {mark: found[mark].required for mark in others} == others
    said = unescape(panel.saved.value)
    assert str(job.path) in said
    assert str(job.schedule_path) in said
    assert panel.message == ""
    assert panel.result.sheet == found["W3"].sheet
    assert "# replaces" in job.path.read_text(encoding="utf-8") or "# [design.group" in job.path.read_text(
        encoding="utf-8"
    )  # comments stay
    assert compute(again).sheet_of("04_embedment").checks
    panel.save.click()
    assert "Nothing to save" in panel.saved.value


def test_save_refuses_what_the_panel_cannot_write(panel, job):
    before = [path.read_bytes() for path in job.files]
    put(panel, force="8,5 kN")
    panel.save.click()
    assert "Nothing was saved: Design force" in unescape(panel.saved.value)
    put(panel, group="W3", code=ACI)
    panel.save.click()
    assert "the code holds for all bar groups; set design.code in job.toml" in unescape(panel.saved.value)
    assert [path.read_bytes() for path in job.files] == before


def test_the_demo_itself_is_never_written():
    path = demo_job("metric")
    before = sorted((file.name, file.read_bytes()) for file in path.parent.iterdir())
    panel = EmbedmentPanel(load_job(path))
    put(panel, force="12 kN")
    panel.save.click()
    assert "this is the demo" in panel.saved.value
    assert sorted((file.name, file.read_bytes()) for file in path.parent.iterdir()) == before


def test_a_us_job_shows_its_own_units(us):
    panel = EmbedmentPanel(us)
    shown = panel.output.value.split("<svg")[0]
    assert panel.mark == "A8"
    assert "kip" in shown
    for foreign in (" mL", " mm", " kN"):
        assert foreign not in shown
    assert "[psi or MPa], 2500 to 20000 psi" in panel.fields["concrete"].description
    # A group without a force gets one, with the keys that it lacks.
    put(panel, group="A5", force="6 kip")
    assert "Cover: the key is missing" in panel.message
    put(panel, cover="3 in", spacing="8 in", member_thickness="20 in")
    assert panel.result.case.mark == "A5"
    panel.save.click()
    assert design_job(load_job(us.path)).get("A5").required == pytest.approx(panel.result.required)


def test_a_job_without_the_table_gets_a_sentence(job):
    text = job.path.read_text(encoding="utf-8")
    kept = [part for part in text.split("\n[") if not part.startswith("design")]
    job.path.write_text("\n[".join(kept), encoding="utf-8")
    bare = load_job(job.path)
    assert bare.design is None
    panel = EmbedmentPanel(bare)
    assert panel.message.startswith("job.toml has no table design")
    put(panel, force="9 kN")
    assert panel.result is None
    panel.save.click()
    assert "Nothing was saved" in panel.saved.value


def test_a_mark_with_a_dot_is_saved(job):
    for path in (job.path, job.schedule_path):
        path.write_text(
            path.read_text(encoding="utf-8")
            .replace("W3", "W3.1")
            .replace("[measured.W3.1]", '[measured."W3.1"]')
            .replace(".group.W3.1]", '.group."W3.1"]'),
            encoding="utf-8",
        )
    path = job.path
    panel = EmbedmentPanel(load_job(path))
    panel.fields["group"].value = "W3.1"
    panel.fields["force"].value = "41 kN"
    panel.save.click()
    assert load_job(path).design.group["W3.1"].force == pytest.approx(41_000)


def test_a_group_without_a_force_asks_for_one():
    panel = EmbedmentPanel(load_job(demo_job("us")))
    put(panel, group="A5")
    assert "Design force: the field is empty; accepted: a force such as 9 kip" in panel.message
    assert panel.result is None


def test_the_editions_of_a_code_can_be_told_apart(panel):
    """The year stands at the end of the name, so all of it has to fit beside the label: half a rem for each letter."""
    field = panel.fields["code"]
    room = float(field.layout.width.removesuffix("rem")) - float(field.style.description_width.removesuffix("rem"))
    longest = max(len(str(one)) for one in (EN04, EN23, ACI))
    assert room >= 0.5 * longest + 1.5
    narrow = panel.fields["bond"]
    assert narrow.style.description_width == "18.6rem"
