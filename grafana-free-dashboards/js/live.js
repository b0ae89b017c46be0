// Live updates: the daemon says that something has changed, and the page that is open asks for what it shows.

import { isFile } from "./api.js";

const LEAST = 1000; // ms between two refreshes
const SHARE = 8; // a refresh that takes long is left this many times as long alone

let source = null;
let refresh = null;
let due = null;
let last = 0;
let took = 0;

// From now on `heard` runs after changes, never twice at a time and never too often.
export function follow(heard) {
  refresh = heard;
  last = Date.now();
  if (source === null && !isFile && "EventSource" in window) listen();
}

export function unfollow() {
  refresh = null;
}

function listen() {
  source = new EventSource("/api/v1/changes");
  source.addEventListener("changed", soon);
  source.addEventListener("error", () => {
    document.dispatchEvent(new CustomEvent("hivemon-check"));
    if (source.readyState !== EventSource.CLOSED) return;
    source = null;
    setTimeout(() => source === null && listen(), 5000);
  });
}

function soon() {
  if (due !== null || refresh === null) return;
  const wait = Math.max(LEAST, took * SHARE) - (Date.now() - last);
  due = setTimeout(run, Math.max(wait, 50));
}

async function run() {
  due = null;
  if (refresh === null) return;
  const began = Date.now();
  try {
    await refresh();
  } finally {
    last = Date.now();
    took = last - began;
  }
}
