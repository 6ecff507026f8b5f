"use strict";
// Two photos in register: a line between them that can be moved, either one alone, or one after the other.

function makeCurtain() {
  const { byId } = Elements;
  const svg = byId("picture"), stage = byId("stage"), slider = byId("curtain"), edge = byId("curtain-edge"), part = byId("curtain-part");
  const whole = svg.viewBox.baseVal.width, still = matchMedia("(prefers-reduced-motion: reduce)");
  const buttons = { first: byId("show-first"), both: byId("show-both"), second: byId("show-second") };
  const blink = byId("blink");
  let shown = "both", timer = null;

  /** The second photo is seen from here to the right, as a share of the stage's width. */
  function place() {
    const share = shown === "first" ? 1 : shown === "second" ? 0 : Number(slider.value) / 100;
    edge.dataset.shown = shown;
    edge.style.left = `${100 * share}%`;
    const frame = stage.getBoundingClientRect(), matrix = svg.getScreenCTM();
    if (!matrix) return;
    const x = new DOMPoint(frame.left + share * frame.width, 0).matrixTransform(matrix.inverse()).x;
    part.setAttribute("x", shown === "second" ? 0 : Math.min(Math.max(x, 0), whole));
  }

  function show(which) {
    shown = which;
    for (const [name, button] of Object.entries(buttons)) button.setAttribute("aria-pressed", String(name === which));
    place();
  }
  const swap = () => show(shown === "first" ? "second" : "first");

  function stop() {
    clearInterval(timer);
    timer = null;
    blink.setAttribute("aria-pressed", "false");
    name();
  }
  function start() {
    clearInterval(timer);
    timer = setInterval(swap, Number(byId("blink-every").value));
    blink.setAttribute("aria-pressed", "true");
    name();
    swap();
  }
  /** Whoever wants no motion changes the photos by hand, a press each. */
  function name() {
    blink.textContent = still.matches ? "Swap the photos" : timer === null ? "Blink" : "Stop blinking";
    byId("blink-pace").hidden = still.matches;
  }
  function pressed() {
    if (still.matches) swap();
    else if (timer === null) start();
    else stop();
  }
  function choose(which) {
    if (timer !== null) stop();
    show(which);
  }

  for (const [name, button] of Object.entries(buttons)) button.addEventListener("click", () => choose(name));
  slider.addEventListener("input", () => choose("both"));
  blink.addEventListener("click", pressed);
  byId("blink-every").addEventListener("change", () => { if (timer !== null) start(); });
  still.addEventListener("change", () => stop());
  document.addEventListener("keydown", (event) => { if (event.key === "Escape" && timer !== null) stop(); });
  svg.addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() === "b" && !event.ctrlKey && !event.metaKey && !event.altKey) pressed();
  });
  window.addEventListener("beforeprint", () => choose("both"));

  const grip = byId("curtain-grip");
  grip.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    grip.setPointerCapture(event.pointerId);
  });
  grip.addEventListener("pointermove", (event) => {
    if (!grip.hasPointerCapture(event.pointerId)) return;
    const frame = stage.getBoundingClientRect();
    slider.value = 100 * (event.clientX - frame.left) / frame.width;
    choose("both");
  });

  name();
  return { place };
}
