// Asking the daemon. Everything that fails is an `ApiError` with words to show.

import { speak, T } from "./texts.js";

export class ApiError extends Error {
  constructor(status, message, hint = "") {
    super(message);
    this.status = status;
    this.hint = hint;
  }

  get told() {
    return `${T.sentence(this.message)} ${this.hint}`.trim();
  }
}

let session = null;
let asking = null;
const kept = document.getElementById("kept-season");
const keptAnswers = kept ? JSON.parse(kept.textContent) : null;

// Whether this page is a file with its data inside, without a daemon.
export const isFile = keptAnswers !== null;

// When the last answer that came from an offline copy was made, or null while the daemon answers.
export const freshness = { keptSince: null, listeners: new Set() };

function noteFreshness(keptSince) {
  if (freshness.keptSince === keptSince) return;
  freshness.keptSince = keptSince;
  for (const heard of freshness.listeners) heard();
}

export async function get(path, signal = null) {
  if (keptAnswers) return fromFile(path);
  const answer = await send(path, { signal });
  if (answer.ok) {
    const since = answer.headers.get("x-kept-since");
    noteFreshness(since === null ? null : Number(since));
  }
  return read(answer);
}

export async function change(method, path, body = null) {
  const who = await whoAmI();
  return read(
    await send(path, {
      method,
      headers: { "content-type": "application/json", "x-hivemon-csrf": who.csrf ?? "" },
      body: JSON.stringify(body ?? {}),
    }),
  );
}

const ROLE = "hivemon-role";

// Returns who this browser is: {role, csrf, password, version, clock}; without a connection, who it was.
export async function whoAmI() {
  if (keptAnswers) return { role: "guest", csrf: null, password: false };
  if (session !== null) return session;
  try {
    return await (asking ?? askWhoIAm());
  } catch (error) {
    const role = localStorage.getItem(ROLE);
    if (error.status === 0 && role !== null) return { role, csrf: null, password: true };
    throw error;
  }
}

// Asks the daemon anew, which also shows whether it is there.
export function askWhoIAm() {
  asking = hearWhoIAm().finally(() => {
    asking = null;
  });
  return asking;
}

async function hearWhoIAm() {
  session = await read(await send("session", {}));
  speak(session.language);
  if (session.role) localStorage.setItem(ROLE, session.role);
  return session;
}

export async function logIn(password) {
  session = await read(
    await send("session", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ password }),
    }),
  );
}

export async function logOut() {
  await change("DELETE", "session");
  localStorage.removeItem(ROLE);
  session = null;
}

async function send(path, options) {
  try {
    return await fetch(`/api/v1/${path}`, { credentials: "same-origin", ...options });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new ApiError(0, T.offline.unreachable, T.offline.hint);
  }
}

async function read(answer) {
  const found = await answer.json().catch(() => null);
  if (answer.ok && found !== null) return found;
  const [error, hint] = T.refusals[found?.code] ?? [found?.error ?? T.offline.odd, found?.hint ?? ""];
  throw new ApiError(answer.status, error, hint);
}

// Answers from the data inside the file: the story as it is, curves cut out of the kept ones.
function fromFile(path) {
  const [name, query] = path.split("?");
  if (!name.includes("/curves/")) return keptAnswers.story;
  const wanted = new URLSearchParams(query);
  const found = keptAnswers.curves[name.split("/").pop()];
  const [since, until] = [Number(wanted.get("since")), Number(wanted.get("until"))];
  const nights =
    until - since > 45 * 86400000 ? [] : keptAnswers.nights.filter(([dusk, dawn]) => dawn > since && dusk < until);
  return { ...found, since, until, nights };
}
