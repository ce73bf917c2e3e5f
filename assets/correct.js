// Corrections: an event is never edited; an amendment or a withdrawal answers it.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  let answering = null;

  function open(button) {
    answering = button.dataset;
    T.byId("amend-event").textContent = "PET " + answering.at + ", " + answering.text;
    for (const name of ["amend-at", "amend-text", "amend-note"]) T.byId(name).value = "";
    T.byId("amend-text").closest("label").hidden = !answering.words;
    T.openDialog("amend-form", "amend-at");
  }

  // H:MM keeps the seconds of the event; H:MM:SS gives them.
  function rightTime(written) {
    const minutes = T.petOf(written);
    if (minutes === null || /:\d\d:\d\d\s*$/.test(written)) return minutes;
    const seconds = Number(answering.petS);
    return minutes + (((seconds % 60) + 60) % 60) / 60;
  }

  function amend() {
    const say = T.formSay(T.byId("amend-form")), changes = {};
    const when = T.byId("amend-at").value.trim(), said = T.byId("amend-text").value.trim();
    const minutes = when ? rightTime(when) : null;
    if (when && minutes === null) return say("Expected a time as H:MM in PET, for instance 2:05; found '" + when + "'.");
    if (when && Math.abs(minutes * 60 - Number(answering.petS)) < 0.5) return say("Expected another time; found the one it has.");
    if (when) changes.at = T.instantOfPet(minutes);
    if (said && answering.words) changes[answering.words] = said;
    if (!Object.keys(changes).length) return say("Expected what is right; found nothing filled in.");
    const go = () => answer({ kind: "amend", event: answering.event, changes: changes });
    if (when && T.isAbsurd(minutes)) return T.askOfTime(minutes, "Amend '" + answering.text + "' to", go);
    return go();
  }

  async function answer(event) {
    const form = T.byId("amend-form"), say = T.formSay(form), why = T.byId("amend-note").value.trim();
    if (why) event.note = why;
    event.at = T.at(0);
    if (await T.send(event, (words) => { say(words); T.say(words); })) form.close();
  }

  // A time far outside the sortie is taken for a slip until someone says that it is meant.
  T.isAbsurd = function (minutes) {
    const [earliest, latest] = T.message().board.band.times_min;
    return minutes < earliest || minutes > latest;
  };

  T.askOfTime = function (minutes, doing, go) {
    const [earliest, latest] = T.message().board.band.times_min.map(T.petText);
    T.ask({
      title: "Is this time meant?", yes: "Yes, record it", then: go,
      words: doing + " PET " + T.petText(minutes) + ". The times of this sortie lie between PET " + earliest + " and PET " + latest + ".",
    });
  };

  T.acts.correct = open;
  T.pressed["amend-send"] = amend;
  T.pressed["amend-withdraw"] = () => answer({ kind: "withdraw", event: answering.event });
  T.enters["amend-form"] = amend;
})();
