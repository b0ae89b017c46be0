// Which page to show, and what stays the same on all of them.

import { askWhoIAm, freshness, whoAmI } from "./api.js";
import { el, hush, replace } from "./dom.js";
import { ago } from "./format.js";
import { showHive } from "./hive.js";
import { follow, unfollow } from "./live.js";
import { showLogbook } from "./logbook.js";
import { showLogin } from "./login.js";
import { sendWaiting } from "./quick.js";
import { showSensors } from "./sensors.js";
import { T } from "./texts.js";
import { showToday } from "./today.js";
import { showYard } from "./yard.js";
import { showYards } from "./yards.js";

const ROUTES = [
  [/^\/$/, showToday],
  [/^\/hive\/([^/]+)\/([^/]+)$/, showHive],
  [/^\/yards$/, showYards],
  [/^\/yard\/([^/]+)$/, showYard],
  [/^\/logbook$/, showLogbook],
  [/^\/sensors$/, showSensors],
  [/^\/login$/, showLogin],
  [/^\/guest\//, showEnded],
];

let onlyYard = null; // where there is one only, its page is led to by its name
let turn = 0;

let shown = null;

// Shows the page of the address. A refresh in place keeps the reader's place; a new page begins at its top. What is
// overtaken while it waits for its answers is dropped.
async function show(fresh = true) {
  const mine = ++turn;
  const main = document.getElementById("main");
  const [render, parts] = route(location.pathname);
  if (fresh) {
    shown = null;
    unfollow();
    hush();
  }
  try {
    if (!fresh && shown?.refresh) await shown.refresh();
    else if (render === null) await missing(main);
    else {
      const stage = el("div");
      const page = await render(stage, parts, new URLSearchParams(location.search));
      if (mine !== turn) return;
      main.replaceChildren(...stage.childNodes);
      shown = page;
      if (lostSince !== null && freshness.keptSince === null) check();
      page?.mounted?.();
      document.title = `${page?.title ?? ""} – ${T.program}`;
      if (page?.onlyYard !== undefined) onlyYard = page.onlyYard;
      // What is still on its way is not asked for again: changes are followed once the page is whole.
      if (page?.live !== false) Promise.resolve(page?.ready).then(() => mine === turn && follow(quietly));
    }
  } catch (error) {
    if (mine !== turn || error.name === "AbortError") return;
    if (error.status === 401) return go("/login");
    trouble(main, error, fresh);
  }
  top();
  if (fresh && show.before) {
    window.scrollTo(0, 0);
    main.focus({ preventScroll: true });
  }
  show.before = true;
}

// Refreshes without moving the focus away from where it is.
async function quietly() {
  const open = document.querySelector("dialog[open]");
  if (open || document.activeElement?.matches("input, select, textarea")) return;
  const focused = document.activeElement?.getAttribute?.("data-key") ?? document.activeElement?.getAttribute?.("href");
  const details = [...document.querySelectorAll("details")].map((node) => node.open);
  await show(false);
  [...document.querySelectorAll("details")].forEach((node, i) => {
    node.open = details[i] ?? node.open;
  });
  if (focused)
    document
      .querySelector(`[data-key="${CSS.escape(focused)}"], [href="${CSS.escape(focused)}"]`)
      ?.focus({ preventScroll: true });
}

function route(path) {
  for (const [pattern, render] of ROUTES) {
    const found = pattern.exec(path);
    if (found) return [render, found.slice(1).map(decodeURIComponent)];
  }
  return [null, []];
}

// A guest's link that opened would have led on.
async function showEnded(main) {
  await whoAmI();
  const [ended, ask] = T.refusals["link-over"];
  replace(main, el("h1", {}, ended), el("p", {}, ask));
  return { title: ended, live: false };
}

async function missing(main) {
  await whoAmI();
  replace(main, el("h1", {}, T.missing.title), el("p", {}, el("a", { href: "/" }, T.missing.back)));
  document.title = `${T.missing.title} – ${T.program}`;
}

// What is shown stays readable; only where nothing is shown yet, the trouble takes the page.
function trouble(main, error, fresh) {
  if (!fresh) return;
  replace(
    main,
    el("h1", {}, error.message),
    el("p", {}, error.hint ?? ""),
    el("p", {}, el("button", { type: "button", on: { click: () => show() } }, T.offline.again)),
  );
  follow(() => show());
}

// The words at the top: the pages, and how old they are when the connection is gone.
function top() {
  const links = [
    ["/", T.nav.today],
    onlyYard ? [`/yard/${encodeURIComponent(onlyYard.id)}`, onlyYard.name] : ["/yards", T.nav.yards],
    ["/logbook", T.nav.logbook],
    ["/sensors", T.nav.sensors],
  ];
  const old = freshness.keptSince ?? lostSince;
  document.querySelector(".skip").textContent = T.skip;
  replace(
    document.getElementById("top"),
    el(
      "nav",
      { "aria-label": T.nav.label },
      el(
        "ul",
        {},
        links.map(([address, name]) =>
          el("li", {}, el("a", { href: address, "aria-current": location.pathname === address ? "page" : null }, name)),
        ),
      ),
    ),
    old === null
      ? null
      : el(
          "p",
          { class: "offline", role: "status" },
          T.offline.kept(ago(Date.now() - old)),
          window.isSecureContext ? null : ` ${T.offline.unkept}`,
        ),
  );
}

let lostSince = null;
let lastHeard = Date.now();

// Asks now and then whether the daemon is there, so that a page left open says how old it is.
async function check() {
  try {
    await askWhoIAm();
    const was = lostSince;
    lostSince = null;
    lastHeard = Date.now();
    const sent = await sendWaiting();
    if (was !== null || freshness.keptSince !== null || sent) await show(false);
  } catch (error) {
    if (error.status === 0 && lostSince === null) lostSince = lastHeard;
  }
  top();
}

export function go(address) {
  history.pushState(null, "", address);
  return show();
}

function followLink(event) {
  const link = event.target.closest?.("a[href]");
  if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey) return;
  const target = new URL(link.href);
  if (
    target.origin !== location.origin ||
    link.target ||
    link.hasAttribute("download") ||
    target.pathname.startsWith("/guest/")
  )
    return;
  if (target.pathname === location.pathname && target.hash) return;
  event.preventDefault();
  go(target.pathname + target.search);
}

function start() {
  document.addEventListener("click", followLink);
  window.addEventListener("popstate", () => show());
  document.addEventListener("hivemon-check", check);
  window.addEventListener("online", check);
  window.addEventListener("offline", check);
  document.addEventListener("hivemon-go", (event) => go(event.detail));
  document.addEventListener("hivemon-refresh", () => show(false));
  freshness.listeners.add(top);
  window.addEventListener("beforeprint", () => openAll(true));
  window.addEventListener("afterprint", () => openAll(false));
  setInterval(check, 20000);
  if ("serviceWorker" in navigator) keepCopies().catch((error) => console.info("no offline copy:", error.message));
  check();
  show();
}

// On paper nothing can be opened: everything is, while it prints.
function openAll(open) {
  for (const node of document.querySelectorAll(open ? "main details:not([open])" : "main details[data-shut]")) {
    node.open = open;
    node.toggleAttribute("data-shut", open);
    if (open) node.dispatchEvent(new Event("toggle")); // the browser's own would come after the paper
  }
}

// The browser lets only this one script in that the policy names.
async function keepCopies() {
  const policy = window.trustedTypes?.createPolicy("hivemon-worker", { createScriptURL: () => "/sw.js" });
  await navigator.serviceWorker.register(policy ? policy.createScriptURL("") : "/sw.js");
}

start();
