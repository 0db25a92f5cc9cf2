"""The first page without a browser: every key can be typed, what is saved stays in the job's own files, and undone."""

import pytest

from calc.base.errors import NotAccepted
from calc.files.adhesive import AdhesiveRecord
from calc.files.job import demo_job
from calc.files.tables import JobFile
from calc.firstpage.entries import KeyField, keys_of, typed_text, value_of
from calc.firstpage.forms import FORMS
from calc.firstpage.page import BARS, JobPage
from calc.package.starting import new_job
from calc.work.load import load_job
from calc.work.save import save_values


@pytest.fixture
def page(tmp_path):
    page = JobPage(str(new_job(tmp_path / "job", units="us", kind="minimal")))
    for head in page.sections.values():
        head.value = True
    return page


@pytest.mark.parametrize("units", ["metric", "us", "failing"])
def test_what_a_job_says_is_read_back_as_it_was_typed(units):
    job = load_job(demo_job(units))
    seen = 0
    for form in (form for forms in FORMS.values() for form in forms if not form.named):
        typed = job.typed_record if form.record else job.typed
        for one in keys_of(form.model, form.table):
            text = typed_text(one, typed, form.table)
            if text:
                value_of(one, text)
                seen += 1
    assert seen > 40


def test_every_key_of_the_job_file_has_a_form_and_words():
    tables = {form.table[0] for forms in FORMS.values() for form in forms if form.table}
    assert tables | {"schema", "adhesive", "schedule", "ribs", "notes"} == {
        field.alias or name for name, field in JobFile.model_fields.items()
    }
    for model, table in (
        (AdhesiveRecord, ()),
        *((JobFile, (name,)) for name in ("job", "equipment", "site", "design")),
    ):
        assert all(one.words and one.words != one.key for one in keys_of(model, table))


@pytest.mark.parametrize(
    ("kind", "text", "words"),
    [
        ("number", "1,5", "comma"),
        ("whole", "2.5", "not a whole number"),
        ("truth", "maybe", "accepted: yes or no"),
        ("date", "30.6.2027", "not a date"),
        ("parts", "mean 1 mm, wide 2 mm", "'wide 2 mm' cannot be read; accepted: mean, sd"),
        ("rows", "mean 1 mm\nmean", "'mean' cannot be read"),
    ],
)
def test_what_cannot_be_read_is_told_with_what_is_accepted(kind, text, words):
    parts = (KeyField("mean", "Mean", "", "text"), KeyField("sd", "Scatter", "", "text"))
    with pytest.raises(NotAccepted, match=f"A key: .*{words}"):
        value_of(KeyField("key", "A key", "", kind, parts=parts), text)


def test_a_table_that_is_not_there_is_added_with_what_it_needs(page):
    assert "no site yet, 05 Job plan has no days" in page.sections["Site"].description
    site, ways = page.forms["Site"]
    assert (site.save.layout.display, ways.save.layout.display) == ("none", None)
    site.fields["crews"].value = "2"
    site.write()
    assert "Drilling machines" in site.said.value
    assert page.job.site is None
    texts = {"drills": "1", "start": "07:00", "shift": "8 h", "temperature": "at 07:00, temperature 50 °F"}
    times = {f"times.{name}": "45 s" for name in ("inject", "set", "mixer_change", "pack_change")}
    for key, text in (texts | times).items():
        site.fields[key].value = text
    ways.name.value = "drawn"
    ways.fields["steps"].value = "do drill, per metre 8 min\ndo vacuum, time 15 s"
    ways.fields["extraction"].value = "yes"
    site.write()
    assert load_job(page.job.path).site.ways["drawn"].steps[0].do == "drill"
    assert page.sections["Site"].description == "Site: complete"
    assert "# in a full pack" in page.job.path.read_text(encoding="utf-8")


def test_a_value_has_its_page_and_a_wrong_one_is_told_by_its_label(page):
    (record,) = page.forms["The product's record"]
    record.fields["density"].value = "98 lb/ft³"
    record.fields["pages.density"].value = "U-0, Table 7"
    record.write()
    assert page.job.adhesive.pages == {"density": "U-0, Table 7"}
    (equipment,) = page.forms["Equipment"]
    equipment.fields["residual"].value = "10 mm"
    equipment.write()
    assert "What stays in an emptied pack: &#x27;10 mm&#x27;" in equipment.said.value
    assert load_job(page.job.path).equipment.residual == page.job.equipment.residual


def test_a_save_is_taken_back_and_everything_follows(page):
    about = page.forms["The job"][0]
    about.fields["title"].value = "Another title"
    about.write()
    assert "Another title" in page.status.value
    page.undo.click()
    assert "New job" in page.status.value
    assert about.fields["title"].value == "New job"
    assert page.undo.disabled


def test_what_is_changed_on_disk_is_never_written_over(page):
    save_values(page.job, values={"job.title": "By hand"})
    about = page.forms["The job"][0]
    about.fields["title"].value = "Here"
    about.write()
    assert "changed since" in about.said.value
    page.reload.click()
    assert "By hand" in page.status.value
    assert about.fields["title"].value == "Here"


def test_bars_are_saved_from_the_page(page):
    page.grid.cells[0]["count"].value = "7"
    page.grid.write()
    assert page.job.groups[0].count == 7
    assert page.sections[BARS].description == "Bar schedule: 1 group"
    assert "Dispensed into all 7 holes" in page.answer.value


def test_without_a_job_one_is_begun_or_chosen(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = JobPage()
    page.begin.click()
    assert "Type a name" in page.said.value
    page.folder.value = "mine"
    page.begin.click()
    assert page.job.path == tmp_path / "mine" / "job.toml"
    assert (tmp_path / "mine" / "notebooks" / "01_dose_per_hole.ipynb").is_file()
    again = JobPage()
    again.folder.value = "mine"
    again.begin.click()
    assert "exists and is not overwritten" in again.said.value
    again.near.value = str(tmp_path / "mine" / "job.toml")
    assert again.job.number == "J-1"


def test_a_job_with_errors_is_told_and_read_again(tmp_path):
    path = new_job(tmp_path / "job", kind="minimal")
    whole = path.read_text(encoding="utf-8")
    path.write_text(whole.replace("130 °", "13 °"), encoding="utf-8")
    page = JobPage(str(path))
    assert page.job is None
    assert "point_angle" in page.widget.children[2].value
    path.write_text(whole, encoding="utf-8")
    page.widget.children[3].click()
    assert page.job is not None


def test_nothing_of_a_demo_is_written():
    page = JobPage(str(demo_job()))
    page.sections["The job"].value = True
    about = page.forms["The job"][0]
    about.fields["title"].value = "Mine"
    about.write()
    assert "this is the demo" in about.said.value


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_short_job_is_fifteen_lines_and_whole(tmp_path, units):
    path = new_job(tmp_path / "job", units=units, kind="minimal")
    assert len(path.read_text(encoding="utf-8").splitlines()) == 15
    assert load_job(path).display.system == units
    with pytest.raises(NotAccepted, match="exists"):
        new_job(tmp_path / "job")
