// Keys of the projector view: arrows and a presenter's page keys lead on, unless a field or a slider has them. Enter in
// a field that is answered presses its button. And when the program behind the page is gone, the page itself says so.
if (!window.lessonKeys) {
  window.lessonKeys = true;
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || !event.target.closest) return;
    if (event.key === "Enter" && event.target.matches(".ls-enter input")) {
      // The field tells what it holds before the button is pressed.
      event.target.dispatchEvent(new Event("change", { bubbles: true }));
      event.target.closest(".ls-scene").querySelector(".ls-take").click();
      return;
    }
    const paging = { PageDown: ".ls-next", PageUp: ".ls-back" };
    const arrows = { ArrowRight: ".ls-next", ArrowLeft: ".ls-back" };
    const taken = event.target.closest("input, textarea, select, [role=slider], .noUi-handle");
    const wanted = paging[event.key] || (taken ? null : arrows[event.key]);
    const button = wanted && document.querySelector(".ls-deck button" + wanted);
    if (!button || button.disabled) return;
    event.preventDefault();
    button.click();
  }, true);

  const SOON = 2500, LATE = 8000; // ms
  const tell = (deck, name) => {
    for (const one of deck.querySelectorAll(".ls-alarm")) one.hidden = !one.classList.contains(name);
  };
  let waiting = null;
  document.addEventListener("click", (event) => {
    const deck = event.target.closest && event.target.closest(".ls-deck");
    if (!deck || !event.target.closest(".ls-next, .ls-back, .ls-stage")) return;
    if (waiting) waiting.disconnect();
    // Whatever the program answers changes the scene.
    const seen = waiting = new MutationObserver(() => { seen.disconnect(); waiting = null; tell(deck, ""); });
    seen.observe(deck.querySelector(".ls-stagebox"), { subtree: true, childList: true, characterData: true });
    setTimeout(async () => {
      if (waiting !== seen) return;
      const there = await fetch("/voila/static/none", { cache: "no-store" }).then(() => true, () => false);
      if (!there && waiting === seen) tell(deck, "ls-gone");
    }, SOON);
    setTimeout(() => {
      if (waiting === seen && deck.querySelector(".ls-alarm.ls-gone").hidden) tell(deck, "ls-silent");
    }, LATE);
  }, true);
}
