// The page of a document that is still being made: it asks how far that is, and shows the document once it is there. Nothing
// that the reader sees or marks is loaded anew meanwhile. Without scripts the page loads itself again (`waiting_html`).

const EVERY_MS = 1000, STILL_MADE = 202;

function say(words, bar) {
  const status = document.querySelector("[role=status]"), shown = document.querySelector("progress");
  if (status.textContent !== words) status.textContent = words;
  if (bar) [shown.max, shown.value] = [bar.max, bar.value];
}

// The document takes the place of this page; asking for it a second time could begin to make it again.
function show(page) {
  document.replaceChild(document.adoptNode(page.documentElement), document.documentElement);
  const place = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (place) place.scrollIntoView();
}

async function look() {
  try {
    const answer = await fetch(location.href, { cache: "no-store" });
    const isPage = (answer.headers.get("content-type") || "").startsWith("text/html"), said = await answer.text();
    const page = isPage ? new DOMParser().parseFromString(said, "text/html") : null;
    if (page && answer.status !== STILL_MADE) return show(page);
    const status = page && page.querySelector("[role=status]");
    say(status ? status.textContent : said, page && page.querySelector("progress"));
  } catch (lost) {
    say("No answer from the server. It is asked again every second.");
  }
  return setTimeout(look, EVERY_MS);
}

setTimeout(look, EVERY_MS);
