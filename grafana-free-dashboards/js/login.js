// Logging in.

import { logIn, whoAmI } from "./api.js";
import { el, freshId, replace } from "./dom.js";
import { T } from "./texts.js";

export async function showLogin(main) {
  await whoAmI();
  const id = freshId("password");
  const input = el("input", { type: "password", id, autocomplete: "current-password", required: true });
  const wrong = el("p", { class: "old", role: "alert" });
  const enter = async (event) => {
    event.preventDefault();
    try {
      await logIn(input.value);
      document.dispatchEvent(new CustomEvent("hivemon-go", { detail: "/" }));
    } catch (error) {
      replace(wrong, error.told);
      input.select();
    }
  };
  replace(
    main,
    el("h1", {}, T.login.title),
    el(
      "form",
      { class: "entry", on: { submit: enter } },
      el("p", { class: "field" }, el("label", { for: id }, T.login.password), input),
      wrong,
      el("button", { type: "submit", class: "main" }, T.login.enter),
    ),
    el("p", { class: "small" }, T.login.hint),
  );
  return { title: T.login.title, live: false, mounted: () => input.focus() };
}
