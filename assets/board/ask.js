// Questions before an act that cannot simply be taken back. The page stays live behind the question.

import { byId } from "./dom.js";
import { isValid, openForm, saysIn } from "./forms.js";
import { Ask } from "./ids.js";
import { who } from "./sending.js";

let asked = null;

// Asks a question that says in words what will be recorded. `question`: {title, words, yes, then, isDecision}. `then` is called
// with the name of the person who decides, or null when no name is asked for.
export function ask(question) {
  asked = question;
  const form = byId(Ask.FORM), by = byId(Ask.BY);
  form.querySelector("h2").textContent = question.title;
  form.setAttribute("aria-label", question.title);
  byId(Ask.WORDS).textContent = question.words;
  byId(Ask.CAUTION).hidden = !question.isDecision;
  byId(Ask.YES).textContent = question.yes;
  by.closest("label").hidden = !question.isDecision;
  by.required = Boolean(question.isDecision);
  if (question.isDecision) by.value = by.value || who();
  openForm(Ask.FORM, question.isDecision && !by.value ? Ask.BY : Ask.NO);
}

function yes() {
  if (!isValid(Ask.FORM, saysIn(Ask.FORM))) return;
  const question = asked;
  byId(Ask.FORM).close();
  question.then(question.isDecision ? byId(Ask.BY).value : null);
}

export const sent = { [Ask.FORM]: yes };
