// The forms that open over the board (dashboard/screens/forms.py). The page stays live behind them. Escape closes them.

import { byId } from "./dom.js";

// Shows the result of a form in its last row.
export const saysIn = (id) => (words) => { byId(id).querySelector(".form-outcome").textContent = words; };

export function openForm(id, first) {
  saysIn(id)("");
  byId(id).showModal();
  if (first) byId(first).focus();
}

// Makes the input fields, once. The page has a slot for each.
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

// Whether the browser finds every field of a form valid. The first invalid field gets the focus, and `say` gets the complaint.
export function isValid(id, say) {
  for (const field of byId(id).querySelectorAll("input")) field.value = field.value.trim();
  const wrong = byId(id).querySelector(":invalid:not(form)");
  if (!wrong) return true;
  say(complaint(wrong));
  wrong.focus();
  return false;
}

// The fault that the browser finds in a field, in our words. `data-expected` names a missing value, `data-looks` its pattern.
function complaint(field) {
  const { customError, patternMismatch } = field.validity;
  if (customError) return field.validationMessage;
  const missing = field.dataset.expected || (field.multiple ? "at least one" : field.tagName === "SELECT" ? "a choice" : "a value");
  const expected = patternMismatch ? field.dataset.looks : missing;
  const found = patternMismatch ? "'" + field.value + "'" : field.multiple ? "none chosen" : "none";
  return labelOf(field).textContent + ": expected " + expected + "; found " + found + ".";
}
