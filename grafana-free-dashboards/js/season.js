// The start of a page that is a file with a hive's season inside, made by `hivemon export --page`.

import { get } from "./api.js";
import { showHive } from "./hive.js";

async function start() {
  const story = await get("story");
  const main = document.getElementById("main");
  const stage = document.createElement("div");
  const page = await showHive(stage, [story.yard, story.hive]);
  main.replaceChildren(...stage.childNodes);
  page.mounted();
}

start();
