// Building pages from elements and text. Text always becomes text: nothing here reads markup.

const SVG = "http://www.w3.org/2000/svg";

// Returns an element. `given` holds attributes; `on` in it holds listeners by event; false and null leave one out.
export function el(name, given = {}, ...children) {
  return furnish(document.createElement(name), given, children);
}

export function svg(name, given = {}, ...children) {
  return furnish(document.createElementNS(SVG, name), given, children);
}

function furnish(node, given, children) {
  for (const [name, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") for (const [event, heard] of Object.entries(value)) node.addEventListener(event, heard);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  add(node, children);
  return node;
}

export function add(node, children) {
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false || child === "") continue;
    node.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return node;
}

export function replace(node, ...children) {
  node.replaceChildren();
  return add(node, children);
}

// Says something to everyone, screen readers included; `more` may be a button.
export function say(text, more = null) {
  const place = document.getElementById("said");
  replace(place, el("span", {}, text), more);
  place.classList.add("shown");
  clearTimeout(say.timer);
  say.timer = setTimeout(() => place.classList.remove("shown"), 12000);
}

export function hush() {
  document.getElementById("said").classList.remove("shown");
}

// Does work that makes parts of a page anew; what was open in them stays open, and the focus stays where it was. Elements
// are known again by their data-key.
export function keepingPlace(parts, work) {
  const find = (selector) => parts.flatMap((part) => [...part.querySelectorAll(selector)]);
  const known = (node) => `${node.localName}[data-key="${CSS.escape(node.dataset.key)}"]`;
  const open = find("details[open][data-key]").map(known);
  const focused = find("[data-key]").find((node) => node === document.activeElement);
  work();
  for (const selector of open) find(selector)[0]?.setAttribute("open", "");
  if (focused && document.activeElement !== focused) find(known(focused))[0]?.focus({ preventScroll: true });
}

// Opens a sheet over the page and returns its dialog. `body`, a "div" or "form", gets the heading and brings its own
// button to cancel; a tap beside the sheet and Escape close it too.
export function openSheet(body, heading) {
  const title = el("h2", { id: freshId("sheet") }, heading);
  body.classList.add("sheet");
  body.prepend(title);
  const dialog = el(
    "dialog",
    {
      class: "quick",
      "aria-labelledby": title.id,
      on: { close: () => dialog.remove(), click: (event) => event.target === dialog && dialog.close() },
    },
    body,
  );
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

let counted = 0;

// Returns an id that no other element has.
export function freshId(stem) {
  counted += 1;
  return `${stem}-${counted}`;
}
