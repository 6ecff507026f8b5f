"use strict";
// A table of spots: sorted by any column, filtered, and tied to the picture.

/** `of.name` is the first part of the ids of table, frame, filter and count; `of.passing()` gives what tells whether an item passes the
 * filter as it stands; `of.columns` have key, label, write, `words` where they hold text, and `value` where they are sorted by
 * something else; the first one holds the button that picks the row. */
function makeSortedTable(of, events) {
  const AT_ONCE = 60, IN_TURN = 300;  // rows: more than the frame shows, and as many as the page answers between
  const { html, byId, isNumber } = Elements;
  const table = byId(`${of.name}-table`), body = table.tBodies[0];
  let sort = { key: of.columns[0].key, down: false }, items = [], hot = null, picked = null;
  let shown = [], rows = new Map(), later = null;  // of `shown`, `rows` holds the first; the others follow

  function header() {
    const cells = of.columns.map((column) => {
      const button = html("button", { type: "button", class: "screen-only" }, column.label);
      // A head with buttons is not repeated on each printed page.
      const words = html("span", { class: "print-only", "aria-hidden": "true" }, column.label);
      const cell = html("th", { scope: "col", "data-key": column.key, class: column.words ? "words" : null }, button, words);
      button.addEventListener("click", () => {
        sort = { key: column.key, down: sort.key === column.key ? !sort.down : false };
        show();
      });
      return cell;
    });
    table.tHead.replaceChildren(html("tr", {}, ...cells));
  }

  const missing = (value) => !isNumber(value) && typeof value !== "string";
  function inOrder(list) {
    const { key, down } = sort, value = of.columns.find((column) => column.key === key).value ?? ((item) => item[key]);
    return list.sort((a, b) => {
      const x = value(a), y = value(b);
      if (missing(x) !== missing(y)) return missing(x) ? 1 : -1;  // not measured: last, whichever way
      const order = x < y ? -1 : x > y ? 1 : of.idOf(a) - of.idOf(b);
      return down ? -order : order;
    });
  }

  // A row to be copied: thousands are made in half the time of putting each together.
  const blank = html("tr", {}, html("th", { scope: "row", class: "number" }, html("button", { type: "button", class: "go" })),
    ...of.columns.slice(1).map((column) => html("td", { class: column.words ? "words" : "number" })));
  function row(item) {
    const node = blank.cloneNode(true), button = node.firstChild.firstChild, special = of.rowClass?.(item);
    node.setAttribute("data-spot", of.idOf(item));
    if (special) node.className = special;
    button.setAttribute("aria-label", of.goTo(item));
    let cell = node.firstChild;
    for (const [i, column] of of.columns.entries()) {
      (i === 0 ? button : cell).textContent = column.write(item);
      cell = cell.nextSibling;
    }
    if (of.idOf(item) === hot) node.classList.add("hot");
    if (of.idOf(item) === picked) node.classList.add("picked");
    return node;
  }

  function addRows(number) {
    const more = shown.slice(rows.size, rows.size + number).map((item) => [of.idOf(item), row(item)]);
    for (const [id, node] of more) rows.set(id, node);
    body.append(...more.map(([, node]) => node));
  }
  function addRest() {
    clearTimeout(later);
    addRows(shown.length);
  }
  function addLater() {
    if (rows.size >= shown.length) return;
    if (document.readyState !== "complete") {
      window.addEventListener("load", () => addLater(), { once: true });  // the page itself first
      return;
    }
    clearTimeout(later);
    later = setTimeout(() => {
      addRows(IN_TURN);
      addLater();
    });
  }

  function show() {
    clearTimeout(later);
    shown = inOrder(items.filter(of.passing()));
    rows = new Map();
    body.replaceChildren();
    addRows(AT_ONCE);
    addLater();
    if (shown.length === 0) body.append(html("tr", {}, html("td", { colspan: of.columns.length }, items.length ? of.noneLeft : of.none)));
    for (const cell of table.tHead.rows[0].cells)
      if (cell.dataset.key === sort.key) cell.setAttribute("aria-sort", sort.down ? "descending" : "ascending");
      else cell.removeAttribute("aria-sort");
    byId("filter-count").textContent = of.counted(shown.length, items.length);
    const ids = new Set(shown.map(of.idOf));
    events.filtered(new Set(items.map(of.idOf).filter((id) => !ids.has(id))));
  }

  function mark(name, before, now) {
    rows.get(before)?.classList.remove(name);
    rows.get(now)?.classList.add(name);
  }
  // Where the picked row stands is asked for when the table is seen: the answer costs the layout of all rows,
  // a second where there are thousands, and whoever clicks in the picture would wait for it.
  const frame = byId(`${of.name}-scroll`);
  let inSight = false, awaited = false;
  new IntersectionObserver((entries) => {
    inSight = entries[entries.length - 1].isIntersecting;
    if (inSight && awaited) reveal();
  }).observe(table.closest("section"));

  function setHot(id) {
    mark("hot", hot, id);
    hot = id;
  }
  function setPicked(id) {
    if (picked === id) return;  // a table made anew: it stays where it is
    mark("picked", picked, id);
    picked = id;
    awaited = id !== null;
    if (inSight) reveal();
  }
  function reveal() {
    awaited = false;
    if (picked !== null && !rows.has(picked)) addRest();
    const node = rows.get(picked);
    if (!node) return;
    // Within its own frame: the page itself stays where the reader is.
    const head = table.tHead.offsetHeight;
    if (node.offsetTop < frame.scrollTop + head) frame.scrollTop = node.offsetTop - head;
    else if (node.offsetTop + node.offsetHeight > frame.scrollTop + frame.clientHeight)
      frame.scrollTop = node.offsetTop + node.offsetHeight - frame.clientHeight;
  }

  const idAt = (event) => {
    const node = event.target.closest?.("tr[data-spot]");
    return node ? Number(node.dataset.spot) : null;
  };
  body.addEventListener("pointerover", (event) => events.hover(idAt(event)));
  body.addEventListener("pointerleave", () => events.hover(null));
  body.addEventListener("focusin", (event) => events.hover(idAt(event)));
  body.addEventListener("click", (event) => { if (idAt(event) !== null) events.pick(idAt(event)); });
  const filter = byId(`${of.name}-filter`);
  filter.addEventListener("input", show);
  filter.addEventListener("submit", (event) => event.preventDefault());
  filter.addEventListener("reset", () => setTimeout(show));
  window.addEventListener("beforeprint", addRest);

  header();
  return {
    setHot, setPicked,
    setRows(list) {
      items = list;
      table.closest("section").classList.toggle("long", items.length > 300);
      show();
    },
  };
}
