// The editor of a cell: a field, and below it the names that the cell may take. Down and Up mark a name, Space or Enter takes it.
// The grid makes one for each cell that is edited (an editor of AG Grid: init, getGui, afterGuiAttached, getValue, destroy).

import { fits, isList, optionsOf, toggled, typing } from "../pure/draft.js";
import * as editing from "./editing.js";

const MOST_SHOWN = 200;

export class CellEditor {
  init(params) {
    this.params = params;
    this.column = params.column.getColId();
    this.row = editing.rowOf(params.data.key);
    this.options = optionsOf(this.column, editing.rows(), this.row, editing.file().choices);
    this.marked = -1;
    this.gui = document.createElement("div");
    this.gui.className = "plan-editor";
    this.field = document.createElement("input");
    this.field.className = "plan-field";
    this.field.setAttribute("aria-label", this.column);
    this.field.value = typeof params.eventKey === "string" && params.eventKey.length === 1 ? params.eventKey : params.value || "";
    this.isTyped = this.field.value !== (params.value || "");
    if (["Backspace", "Delete"].includes(params.eventKey)) this.field.value = "";
    this.field.style.width = Math.max(params.column.getActualWidth(), this.options ? 240 : 60) - 2 + "px";
    this.gui.append(this.field);
    this.field.addEventListener("input", () => { this.isTyped = true; this.marked = -1; this.changed(); });
    this.field.addEventListener("keydown", (event) => this.pressed(event));
    if (this.options) this.makeList();
  }

  makeList() {
    this.list = document.createElement("ul");
    this.list.className = "plan-options";
    this.list.setAttribute("role", "listbox");
    this.list.addEventListener("mousedown", (event) => {
      event.preventDefault();  // the field keeps the focus
      const item = event.target.closest("li");
      if (item) this.take(item.dataset.name);
    });
    this.gui.append(this.list);
    this.showList();
  }

  // The options that fit what is being typed; all of them as long as nothing was typed.
  shown() {
    const word = this.isTyped ? typing(this.field.value, isList(this.column)).split("+")[0] : "";
    const fitting = this.options.filter((option) => fits(option.name, word, option.said));
    return fitting.slice(0, MOST_SHOWN);
  }

  showList() {
    const taken = new Set(this.field.value.split(/\s+/).map((word) => word.split("+")[0]));
    const whole = this.field.value.trim();
    this.list.replaceChildren(...this.shown().map((option, at) => {
      const item = document.createElement("li"), isTaken = isList(this.column) ? taken.has(option.name) : option.name === whole;
      item.dataset.name = option.name;
      item.setAttribute("role", "option");
      item.setAttribute("aria-selected", String(isTaken));
      item.classList.toggle("marked", at === this.marked);
      item.textContent = (isTaken ? "✓ " : "\u2003") + option.name + (option.said ? "  " + option.said : "");
      return item;
    }));
    this.list.hidden = !this.list.children.length;
    const marked = this.list.querySelector(".marked");
    if (marked) marked.scrollIntoView({ block: "nearest" });
  }

  changed() {
    if (this.list) this.showList();
    this.params.typed({ key: this.params.data.key, column: this.column, text: this.field.value });
  }

  take(name) {
    this.field.value = toggled(this.field.value, name, isList(this.column));
    this.isTyped = false;
    this.changed();
  }

  pressed(event) {
    if (!this.list || event.ctrlKey || event.altKey) return;
    const shown = this.shown(), step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step) {
      this.marked = Math.min(Math.max(this.marked + step, -1), shown.length - 1);
      this.showList();
    } else if (this.marked >= 0 && (event.key === " " || event.key === "Enter")) {
      this.take(shown[this.marked].name);
      if (!isList(this.column)) {
        this.params.stopEditing();
      } else if (event.key === "Enter") {
        this.marked = -1;
        this.showList();
      }
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }

  getGui() { return this.gui; }

  afterGuiAttached() {
    this.field.focus();
    if (!this.isTyped) this.field.select();
    else this.changed();
  }

  getValue() { return this.field.value.trim(); }

  destroy() { this.params.typed(null); }
}
