// Keys of the projector view: arrows and a presenter's page keys lead on, unless a field or a slider has them.
if (!window.lessonKeys) {
  window.lessonKeys = true;
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const paging = { PageDown: ".ls-next", PageUp: ".ls-back" };
    const arrows = { ArrowRight: ".ls-next", ArrowLeft: ".ls-back" };
    const taken = event.target.closest && event.target.closest("input, textarea, select, [role=slider], .noUi-handle");
    const wanted = paging[event.key] || (taken ? null : arrows[event.key]);
    const button = wanted && document.querySelector(".ls-deck button" + wanted);
    if (!button || button.disabled) return;
    event.preventDefault();
    button.click();
  }, true);
}
