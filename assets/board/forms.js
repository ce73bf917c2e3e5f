// The forms that open over the board (dashboard/screens/forms.py). The page goes on behind them; Escape closes them.

import { byId } from "./dom.js";

// Says what came of a form, in its last row.
export const saysIn = (id) => (words) => { byId(id).querySelector(".form-outcome").textContent = words; };

export function openForm(id, first) {
  saysIn(id)("");
  byId(id).showModal();
  if (first) byId(first).focus();
}

// Input fields are made here, once: the page holds a slot for each.
export function fillSlots() {
  for (const slot of document.querySelectorAll(".slot:empty")) {
    const field = document.createElement("input");
    field.id = slot.dataset.input;
    field.className = slot.dataset.class;
    field.placeholder = slot.dataset.hint;
    field.maxLength = 500;
    field.autocomplete = "off";
    if (slot.dataset.label) field.setAttribute("aria-label", slot.dataset.label);
    if (slot.dataset.expected) field.dataset.expected = slot.dataset.expected;
    slot.append(field);
  }
}

export const labelOf = (field) => field.closest("label").firstElementChild;

// Whether the browser finds every field of a form valid. The first that is not gets the focus, and `say` the words.
export function isValid(id, say) {
  for (const field of byId(id).querySelectorAll("input")) field.value = field.value.trim();
  const wrong = byId(id).querySelector(":invalid:not(form)");
  if (!wrong) return true;
  say(complaint(wrong));
  wrong.focus();
  return false;
}

// What the browser finds wrong with a field, in our words. `data-expected` says what is missing, `data-looks` how it is written.
function complaint(field) {
  const { customError, patternMismatch } = field.validity;
  if (customError) return field.validationMessage;
  const missing = field.dataset.expected || (field.multiple ? "at least one" : field.tagName === "SELECT" ? "a choice" : "a value");
  const expected = patternMismatch ? field.dataset.looks : missing;
  const found = patternMismatch ? "'" + field.value + "'" : field.multiple ? "none chosen" : "none";
  return labelOf(field).textContent + ": expected " + expected + "; found " + found + ".";
}
