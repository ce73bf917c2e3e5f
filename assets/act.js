// Who is pressed: one listener, and the tables in which the other scripts enter what they answer to.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  // By the id of a button, by its data-act, and by Enter in a field (its own id or that of its form).
  T.pressed = T.pressed || {};
  T.acts = T.acts || {};
  T.enters = {};

  T.byId = (id) => document.getElementById(id);

  // What this board may do. A head that says nothing of deciding leaves it to those who log.
  T.may = function () {
    const m = T.message(), logs = Boolean(m && m.roles && m.roles.log);
    return { log: logs, decide: logs && (m.may_decide === undefined ? m.roles.decide !== false : m.may_decide) };
  };

  // Why this board may not enter or correct events of a kind, as the words after it; empty: it may.
  T.whyNot = function (kind) {
    const isLead = JSON.parse(T.byId("entry-form").dataset.leadKinds).includes(kind);
    return isLead && !T.may().decide ? "needs the lead key" : "";
  };

  // The instant so many minutes before now, of the sortie's time.
  T.at = (minutesAgo) => new Date(T.now() - minutesAgo * 60000).toISOString();

  T.formSay = (form) => (words) => { form.querySelector(".form-outcome").textContent = words; };

  T.openDialog = function (id, first) {
    const form = T.byId(id);
    T.formSay(form)("");
    form.showModal();
    if (first) T.byId(first).focus();
  };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || !T.message()) return;
    if (T.pressed[button.id]) T.pressed[button.id](button);
    else if (T.acts[button.dataset.act]) T.acts[button.dataset.act](button);
    else if (/-(cancel|no)$/.test(button.id)) button.closest("dialog").close();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "checkbox") return;
    const form = event.target.closest("dialog"), act = T.enters[form ? form.id : event.target.id];
    if (!act) return;
    event.preventDefault();
    act();
  });
})();
