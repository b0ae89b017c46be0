// The words of the language that the yard's beekeeper reads. `T` is filled anew when the language changes.

import { english } from "./words_en.js";
import { dutch } from "./words_nl.js";

const KNOWN = { en: english, nl: dutch };
const LAST = "hivemon-language";

export const T = {};

// From now on everything is said in `language` ("en" or "nl"); what is not known changes nothing.
export function speak(language) {
  const words = KNOWN[language];
  if (!words || T.language === language) return;
  Object.assign(T, words);
  document.documentElement.lang = language;
  try {
    localStorage.setItem(LAST, language);
  } catch {
    // A browser that keeps nothing asks hivemon again the next time.
  }
}

// Until hivemon has answered: the language of the last time.
function begin() {
  try {
    speak(localStorage.getItem(LAST) ?? "en");
  } catch {
    speak("en");
  }
  speak(T.language ?? "en");
}

begin();
