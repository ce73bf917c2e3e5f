// Corrections: an event is never edited; an amendment or a withdrawal answers it.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  let answering = null;

  const isClock = () => answering.kind === "clock";

  function open(button) {
    answering = button.dataset;
    T.byId("amend-event").textContent = (isClock() ? "UTC " + answering.utc : "PET " + answering.at) + ", " + answering.text;
    for (const name of ["amend-at", "amend-text", "amend-note"]) T.byId(name).value = "";
    T.byId("amend-text").closest("label").hidden = !answering.words;
    const said = T.byId("amend-at").closest("label").firstElementChild;
    said.dataset.said = said.dataset.said || said.textContent;
    said.textContent = isClock() ? "Right time of PET zero, UTC HH:MM or HH:MM:SS of today, or a whole instant" : said.dataset.said;
    T.openDialog("amend-form", "amend-at");
    const why = T.whyNot(answering.kind);
    T.byId("amend-send").disabled = T.byId("amend-withdraw").disabled = why !== "";
    if (why) T.formSay(T.byId("amend-form"))("This event " + why + ".");
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
    if (isClock() && when) return amendClock(say, when);
    const minutes = when ? rightTime(when) : null;
    if (when && minutes === null) return say("Expected a time as H:MM in PET, for instance 2:05; found '" + when + "'.");
    if (when && Math.abs(minutes * 60 - Number(answering.petS)) < 0.5) return say("Expected another time; found the one it has.");
    if (when) changes.at = T.instantOfPet(minutes);
    if (said && answering.words) changes[answering.words] = said;
    if (!Object.keys(changes).length) return say("Expected what is right; found nothing filled in.");
    const to = [when ? "time PET " + T.petText(minutes) : "", changes[answering.words] ? "words '" + said + "'" : ""];
    const go = () => weighed("Amend it?", to.filter((one) => one).join(" and "), changes);
    if (when && T.isAbsurd(minutes)) return T.askOfTime(minutes, "Amend '" + answering.text + "' to", go);
    return go();
  }

  function amendClock(say, when) {
    const ms = T.utcOf(when);
    if (ms === null) return say("Expected UTC as HH:MM or HH:MM:SS of today, or an instant like 2031-04-12T09:10:00Z; found '" + when + "'.");
    return weighed("Amend PET zero?", "UTC " + T.instantText(ms) + T.oddUtc(ms), { at: new Date(ms).toISOString() });
  }

  // Asked first where it weighs, with what becomes different.
  function weighed(title, to, changes) {
    const go = () => answer({ kind: "amend", event: answering.event, changes: changes });
    if (!answering.undoes) return go();
    return T.ask({ title: title, yes: "Amend", then: go,
      words: "'" + answering.text + "' is amended to: " + to + ". What rests on it is reckoned anew." });
  }

  function withdraw() {
    const go = () => answer({ kind: "withdraw", event: answering.event });
    if (!answering.undoes) return go();
    return T.ask({ title: "Withdraw this event?", yes: "Withdraw", then: go,
      words: "'" + answering.text + "' is withdrawn: " + answering.undoes + ". The withdrawal itself can be taken back." });
  }

  // A withdrawal is withdrawn itself: what it took back counts again.
  function takeBack(button) {
    const of = button.dataset, why = T.whyNot(of.kind);
    if (why) return T.say("Taking this back " + why + ".");
    return T.ask({ title: "Take the withdrawal back?", yes: "Take it back", words: "'" + of.text + "' counts again, at its own time.",
      then: () => T.send({ kind: "withdraw", event: of.event, at: T.at(0) }, T.say) });
  }

  async function answer(event) {
    const form = T.byId("amend-form"), say = T.formSay(form), why = T.byId("amend-note").value.trim();
    if (why) event.note = why;
    event.at = T.at(0);
    if (await T.send(event, (words) => { say(words); T.say(words); })) form.close();
  }

  // PET zero is judged by UTC against now: the words for an instant that is to come, or half a day and more ago.
  T.oddUtc = function (ms) {
    const min = (ms - T.now()) / 60000, hours = Math.abs(min) / 60;
    const length = hours >= 48 ? Math.round(hours / 24) + " days" : hours >= 1 ? Math.floor(hours) + " h" : Math.ceil(Math.abs(min)) + " min";
    if (min > 1) return " (" + length + " from now: is this time meant?)";
    return hours > 12 ? " (" + length + " ago: is this time meant?)" : "";
  };

  T.instantText = (ms) => new Date(ms).toISOString().slice(0, 19).replace("T", " ");

  // A time far outside the sortie is taken for a slip until someone says that it is meant.
  T.isAbsurd = function (minutes) {
    const [earliest, latest] = T.message().board.band.times_min;
    if (T.isFarBefore(minutes) && T.isFarBefore(T.petMin(T.now()))) return Math.abs(T.petMin(T.now()) - minutes) > 12 * 60;
    return minutes < earliest || minutes > latest;
  };

  T.askOfTime = function (minutes, doing, go) {
    const [earliest, latest] = T.message().board.band.times_min.map(T.petText);
    if (T.isFarBefore(T.petMin(T.now()))) {
      return T.ask({ title: "Is this time meant?", yes: "Yes, record it", then: go,
        words: doing + " UTC " + T.instantText(Date.parse(T.instantOfPet(minutes))) + ": PET zero is not today. Set PET zero first." });
    }
    return T.ask({
      title: "Is this time meant?", yes: "Yes, record it", then: go,
      words: doing + " PET " + T.petText(minutes) + ". The times of this sortie lie between PET " + earliest + " and PET " + latest + ".",
    });
  };

  T.acts.correct = open;
  T.acts["take-back"] = takeBack;
  T.pressed["amend-send"] = amend;
  T.pressed["amend-withdraw"] = withdraw;
  T.enters["amend-form"] = amend;
})();
