// Questions before what cannot simply be taken back, and decisions. The page goes on behind the question.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const CAUTION = "Advisory only: flight rules, suit telemetry and the responsible flight controllers and physicians decide. "
    + "Not certified for flight use.";
  let asked = null;

  // Asks, repeating in words what will be recorded; `then` is called with the name given, or null where none is asked for.
  T.ask = function (question) {
    asked = question;
    const form = T.byId("ask-form"), by = T.byId("ask-by");
    form.querySelector("h2").textContent = question.title;
    form.setAttribute("aria-label", question.title);
    T.byId("ask-words").textContent = question.words;
    T.byId("ask-caution").textContent = question.isDecision ? CAUTION : "";
    T.byId("ask-yes").textContent = question.yes;
    by.closest("label").hidden = !question.isDecision;
    if (question.isDecision) by.value = by.value || new URLSearchParams(location.search).get("by") || "";
    T.openDialog("ask-form", question.isDecision && !by.value ? "ask-by" : "ask-no");
  };

  function yes() {
    const form = T.byId("ask-form"), by = T.byId("ask-by").value.trim(), question = asked;
    if (question.isDecision && !by) {
      T.formSay(form)("Decided by: expected the name of who decides; found none.");
      T.byId("ask-by").focus();
      return;
    }
    form.close();
    question.then(question.isDecision ? by : null);
  }

  // A decision becomes several events, all at one instant; each is sent on its own, and kept like any other when it is lost.
  // `broken`: rules of the plan that it goes against; they are repeated, and asked about a second time.
  T.askToDecide = function (words, events, broken) {
    if (!T.may().decide) return T.say("This board may not record decisions.");
    const against = broken.length ? " Against the plan: " + broken.join("; ") + "." : "";
    const record = async (by) => {
      const when = T.at(0);
      for (const event of events) await T.send(Object.assign({}, event, { at: when, by: by }), T.say);
    };
    const again = (by) => T.ask({
      title: "Record it against the plan?", words: "Not allowed by the plan: " + broken.join("; ") + ". Recorded, it takes effect all the same.",
      yes: "Record against the plan", then: () => record(by),
    });
    return T.ask({
      title: "Record this decision?", words: T.when(T.petMin(T.now())) + ": " + words + against, yes: "Record",
      isDecision: true, then: broken.length ? again : record,
    });
  };

  // What takes a decision back is worked out by the server; its words are repeated, and all its events sent.
  async function takeBack(button) {
    if (!T.may().decide) return T.say("Taking a decision back needs the lead key.");
    let found = null;
    try {
      const address = "/api/take-back?decision=" + encodeURIComponent(button.dataset.event);
      const response = await fetch(address, { signal: AbortSignal.timeout(8000) });
      found = response.ok ? await response.json() : null;
    } catch (lost) {
      return T.say("Not known what would take it back: the server did not answer. Press again once it is back.");
    }
    if (found === null) return T.say("This decision counts no longer.");
    if (!found.events.length) return T.say(found.text);
    const record = async (by) => {
      const when = T.at(0);
      for (const event of found.events) await T.send(Object.assign({}, event, { at: when, by: by }), T.say);
    };
    return T.ask({ title: "Take this decision back?", words: found.text, yes: "Take it back", isDecision: true, then: record });
  }

  T.acts["take-back-decision"] = takeBack;
  T.pressed["ask-yes"] = yes;
  T.enters["ask-form"] = yes;
  T.acts.decide = (button) => T.askToDecide(
    button.dataset.text, JSON.parse(button.dataset.events), JSON.parse(button.dataset.broken || "[]"));
})();
