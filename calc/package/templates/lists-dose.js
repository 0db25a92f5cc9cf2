"use strict";
// Ticks and lines of the hole record, kept on this phone under the package's digest. Nothing is sent, nothing worked out.
(() => {
  const key = "dose-list " + document.body.dataset.key;
  const record = JSON.parse(document.getElementById("record").textContent);
  const $ = (name) => document.getElementById(name);
  const form = $("line");
  let kept = { ticks: {}, lines: [], typed: {} };
  try {
    kept = { ...kept, ...JSON.parse(localStorage.getItem(key) || "{}") };
  } catch {
    $("lost").hidden = false;
  }
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify(kept));
    } catch {
      $("lost").hidden = false;
    }
  };

  // ---- ticks ----
  for (const box of document.querySelectorAll("input[data-tick]")) {
    box.checked = Boolean(kept.ticks[box.dataset.tick]);
    box.addEventListener("change", () => {
      if (box.checked) kept.ticks[box.dataset.tick] = true;
      else delete kept.ticks[box.dataset.tick];
      keep();
    });
  }
  for (const button of document.querySelectorAll("button[data-clear]")) {
    button.addEventListener("click", () => {
      for (const box of button.parentElement.querySelectorAll("input[data-tick]")) {
        box.checked = false;
        delete kept.ticks[box.dataset.tick];
      }
      keep();
    });
  }

  // ---- the hole record ----
  const at = { mark: record.columns.indexOf("mark"), hole: record.columns.indexOf("hole") };
  const planned = (mark) => record.rows.filter((row) => row[at.mark] === mark);
  const done = (mark, hole) => kept.lines.some((line) => line[at.mark] === mark && line[at.hole] === hole);
  const chosen = () => record.marks[Number(form.elements.mark.value)];
  const offer = () => {
    const mark = chosen();
    const left = planned(mark).map((row) => row[at.hole]).filter((hole) => !done(mark, hole));
    $("left").replaceChildren(...left.map((hole) => new Option(hole)));
    form.elements.holes.value = left[0] || "";
  };
  const show = () => {
    $("lines").replaceChildren(
      ...kept.lines.map((line, number) => {
        const item = document.createElement("li");
        const take = document.createElement("button");
        item.append(`${line[at.mark]}, ${line[at.hole]} `);
        take.type = "button";
        take.textContent = "Take back";
        take.addEventListener("click", () => {
          kept.lines.splice(number, 1);
          keep();
          show();
        });
        item.append(take);
        return item;
      }),
    );
    $("count").textContent = String(kept.lines.length);
    $("save").disabled = kept.lines.length === 0;
    offer();
  };
  for (const field of form.querySelectorAll("[data-column]")) {
    if (field.dataset.kept) field.value = kept.typed[field.dataset.column] || "";
  }
  form.elements.mark.addEventListener("change", offer);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const line = [...planned(chosen())[0]];
    line[at.hole] = form.elements.holes.value.trim();
    for (const field of form.querySelectorAll("[data-column]")) {
      line[record.columns.indexOf(field.dataset.column)] = field.value.trim();
      if (field.dataset.kept) kept.typed[field.dataset.column] = field.value.trim();
      else field.value = "";
    }
    kept.lines.push(line);
    keep();
    show();
    $("lines").scrollIntoView({ block: "nearest" });
  });

  // A spreadsheet runs nothing of it: a sign that would start a formula gets an apostrophe, as in the file of the package.
  const cell = (text) => {
    const safe = /^[=+\-@\t\r\n|%]/.test(text) ? "'" + text : text;
    return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
  };
  const written = () => [record.columns, ...kept.lines].map((line) => line.map(cell).join(",") + "\n").join("");
  $("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([written()], { type: "text/csv" }));
    link.download = record.file;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    $("text").value = written();
    $("copy").hidden = false;
  });
  show();
})();
