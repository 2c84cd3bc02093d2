// The page: which screen stands at which address, and the line above it that tells whether all is kept and answered.

import { standing, startAsking, troubleNow, unlock } from "./asking.js";
import { button, el } from "./dom.js";
import { ready } from "./kept.js";
import { closeJob, openJob, record, tell, watch } from "./job.js";
import { chooseScreen } from "./screens/choose.js";
import { headScreen } from "./screens/head.js";
import { jobsScreen } from "./screens/jobs.js";
import { passScreen } from "./screens/pass.js";
import { setupScreen } from "./screens/setup.js";
import { sheetScreen } from "./screens/sheet.js";
import { valveScreen } from "./screens/valve.js";
import { keepOnPhone } from "./release.js";
import { TROUBLES } from "./words.js";

const main = document.getElementById("screen");
const back = document.getElementById("back");
const state = document.getElementById("standing");
let current = null;
let turns = 0;

async function turn() {
  await ready();
  turns += 1;
  const own = turns;
  const [room, id, what, ...rest] = address();
  if (room === "job") {
    if (record()?.id !== id) await openJob(id);
  } else closeJob();
  if (own !== turns) return;
  current?.drop?.();
  current = screenAt(room, what, rest);
  main.replaceChildren(current.node);
  document.title = `${current.title} · Headbench`;
  back.hidden = !current.back;
  back.href = current.back ?? "#/";
  scrollTo(0, 0);
  if (current.focus) current.focus();
  else main.querySelector("h1")?.focus({ preventScroll: true });
  tell();
}

/** The parts of the address behind the page's own; none where it cannot be read. */
function address() {
  try {
    return location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
  } catch {
    return [""];
  }
}

/** What is told where the browser keeps nothing: no reading may be entered that would be lost. */
function tellNothingIsKept(error) {
  main.replaceChildren(
    el("h1", { tabindex: "-1" }, "Nothing can be kept here"),
    el("p", {}, `This browser does not let the page keep readings (${error.message}). Leave its private mode, or take one valve as a form.`),
    el("p", {}, el("a", { class: "act main", href: "/bench/one-valve" }, "One valve, as a plain form")),
  );
}

function screenAt(room, what, [first, second]) {
  if (room === "new") return setupScreen({ isNew: true });
  if (room !== "job" || !record()) return jobsScreen();
  switch (what) {
    case "setup":
      return setupScreen({ isNew: false });
    case "pass":
      return passScreen({ key: first, at: second });
    case "valve":
      return valveScreen({ position: first });
    case "sheet":
      return sheetScreen();
    case "choose":
      return chooseScreen();
    default:
      return headScreen();
  }
}

function toldOf({ name, seconds }) {
  return seconds === null ? TROUBLES[name].told : `${TROUBLES[name].told}, asked again in ${seconds} s`;
}

function tellStanding() {
  const job = record();
  if (!job) {
    state.replaceChildren();
    return;
  }
  const words = {
    answered: "kept · answered",
    asking: "kept · asking…",
    waiting: `${toldOf(troubleNow())} · ${job.revision - job.answered} kept`,
    locked: `key needed · ${job.revision - job.answered} kept`,
  };
  const now = standing();
  if (state.textContent === words[now]) return;
  state.replaceChildren(now === "locked" ? button(words[now], unlock) : el("span", { class: `standing is-${now}` }, words[now]));
}

watch(() => {
  tellStanding();
  if (record()) current?.update?.();
});
const turnOrTell = () => turn().catch(tellNothingIsKept);
addEventListener("hashchange", turnOrTell);
startAsking();
turnOrTell();
keepOnPhone();
