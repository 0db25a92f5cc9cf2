"use strict";
// Ticks and lines of the hole record, kept on this phone under the package's digest. Nothing is sent, nothing worked out.
(() => {
  const key = "dose-list " + document.body.dataset.key;
  const record = JSON.parse(document.getElementById("record").textContent);
  const $ = (name) => document.getElementById(name);
  const form = $("line");
  let kept = { ticks: {}, lines: [], typed: {} };
  // Looked at again before each change: another page of this list, or a browser that was slow to hand it over, may know more.
  const look = () => {
    try {
      const text = localStorage.getItem(key);
      if (text) kept = { ticks: {}, lines: [], typed: {}, ...JSON.parse(text) };
    } catch {
      $("lost").hidden = false;
    }
  };
  const change = (work) => {
    look();
    work();
    try {
      localStorage.setItem(key, JSON.stringify(kept));
    } catch {
      $("lost").hidden = false;
    }
  };

  // ---- ticks ----
  const boxes = [...document.querySelectorAll("input[data-tick]")];
  const tick = (box) => change(() => {
    if (box.checked) kept.ticks[box.dataset.tick] = true;
    else delete kept.ticks[box.dataset.tick];
  });
  for (const box of boxes) box.addEventListener("change", () => tick(box));
  for (const button of document.querySelectorAll("button[data-clear]")) {
    button.addEventListener("click", () => {
      for (const box of button.parentElement.querySelectorAll("input[data-tick]")) {
        box.checked = false;
        tick(box);
      }
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
      ...kept.lines.map((line) => {
        const item = document.createElement("li");
        const take = document.createElement("button");
        item.append(`${line[at.mark]}, ${line[at.hole]} `);
        take.type = "button";
        take.textContent = "Take back";
        take.addEventListener("click", () => {
          const same = JSON.stringify(line);
          change(() => {
            const found = kept.lines.findIndex((one) => JSON.stringify(one) === same);
            if (found >= 0) kept.lines.splice(found, 1);
          });
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
  const refresh = () => {
    look();
    for (const box of boxes) box.checked = Boolean(kept.ticks[box.dataset.tick]);
    for (const field of form.querySelectorAll("[data-column]")) {
      if (field.dataset.kept && !field.value) field.value = kept.typed[field.dataset.column] || "";
    }
    show();
  };
  form.elements.mark.addEventListener("change", offer);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const line = [...planned(chosen())[0]];
    line[at.hole] = form.elements.holes.value.trim();
    const typed = {};
    for (const field of form.querySelectorAll("[data-column]")) {
      line[record.columns.indexOf(field.dataset.column)] = field.value.trim();
      if (field.dataset.kept) typed[field.dataset.column] = field.value.trim();
      else field.value = "";
    }
    change(() => {
      Object.assign(kept.typed, typed);
      kept.lines.push(line);
    });
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
  refresh();
  setTimeout(refresh, 500);
  for (const event of ["pageshow", "storage"]) window.addEventListener(event, refresh);
})();
