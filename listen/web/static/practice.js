// The drill page: shows questions, takes answers by voice, touch or typing, and measures how long they took.

import { fill, h, keep, kept, picture } from "./dom.js";
import { Link } from "./link.js";
import { Microphone, NoSound } from "./microphone.js";
import { drawBoard, markBoard, numbered } from "./practice-board.js";
import { drawSummary } from "./practice-summary.js";
import { ask as askServer, token } from "./server.js";

const PATH = `/practice/${document.body.dataset.place}`;
const RIGHT_MS = 1500;
const WRONG_MS = 9000; // hands-free only: time to hear or read the difference
const REQUESTS = ["slot", "apart"]; // drills that are asked as a dentist asks, so that hearing comes first
const EARS = { deaf: "", loading: "Hearing is starting", listening: "Listening", speaking: "Hearing you", thinking: "One moment" };

const by = (id) => document.getElementById(id);
const trays = JSON.parse(by("trays").textContent);
const words = JSON.parse(by("words").textContent); // what is asked and told, in the pack's language
const audio = new Audio();

let view = null;
let endedAt = null; // when the question ended, ms
let beganAt = null; // when the answer in the field was begun, ms
let answering = false;
let goOn = 0;
let link = null;
let wrong = null; // the token of the answer that was last marked wrong

// --- questions -----------------------------------------------------------------------------------------

async function load() {
  clearTimeout(goOn);
  const next = await ask(`${PATH}/now${choosing() ? "?choose=yes" : ""}`);
  if (next?.type === "problem") return tell(next.text, "/practice");
  if (next) show(next);
}

function show(next) {
  view = next;
  endedAt = beganAt = null;
  answering = false;
  by("verdict").replaceChildren();
  by("onward").hidden = true;
  if (view.type === "summary") return finish();
  by("count").textContent = view.asked ? `· ${view.asked} answered` : "";
  by("kind").textContent = words.kinds[view.drill] ?? "";
  by("picture").replaceChildren(...(view.picture === null ? [] : [picture(view.picture)]));
  by("as-it-came").hidden = !view.as_it_came;
  by("text").value = "";
  by("text").placeholder = view.drill === "lay" ? words.type_placing : words.type_answer;
  by("say").hidden = false;
  drawAll();
  if (view.number > 1) scrollTo({ top: 0 });
  if (matchMedia("(pointer: fine)").matches) takeKeys();
  speak();
}

function drawAll() {
  by("board").replaceChildren(...drawBoard(view, trays, words, touched));
  document.body.dataset.board = by("board").childElementCount ? "some" : "none";
  by("choose-line").hidden = view.drill !== "name";
  by("choose").disabled = false;
  by("choose").textContent = view.choices.length ? words.recall : words.choose;
}

/** Keys go where they are wanted: numbers to what is shown under them, anything else is typed. */
function takeKeys() {
  const shown = numbered(by("board"));
  (shown.length ? by("prompt") : by("text")).focus({ preventScroll: true });
}

/** A name is chosen from a few instead of being recalled. */
function choosing() {
  return kept("practice.choose", "no") === "yes";
}

async function toggleChoosing() {
  keep("practice.choose", choosing() ? "no" : "yes");
  const next = choosing() ? await ask(`${PATH}/now?choose=yes`) : { ...view, choices: [] };
  if (next?.number !== view.number || answering) return;
  view = { ...view, choices: next.choices };
  drawAll();
  takeKeys();
}

/** Read the question out, if that is wanted; it ends when the sound does. */
async function speak() {
  const number = view.number;
  endedAt = null;
  link?.send({ do: "deaf" });
  const heard = hearing() && REQUESTS.includes(view.drill);
  if (heard) by("prompt").textContent = words.listen;
  else readIt();
  by("reveal-line").hidden = !heard;
  if (hearing()) {
    try {
      const reply = await fetch(`${PATH}/say?n=${number}`);
      if (reply.status === 200 && view.number === number) await play(await reply.blob());
      else if (view.number === number) readIt();
    } catch {
      if (view.number === number) readIt(); // what cannot be heard is read
    }
  }
  if (view.number === number && !answering) ended();
}

function readIt() {
  by("prompt").textContent = view.prompt;
  by("reveal-line").hidden = true;
}

function play(sound) {
  const url = URL.createObjectURL(sound);
  return new Promise((done, failed) => {
    audio.onended = audio.onpause = done;
    audio.onerror = failed;
    audio.src = url;
    audio.play().catch(failed);
  }).finally(() => URL.revokeObjectURL(url));
}

function ended() {
  endedAt = performance.now();
  listen();
}

function listen() {
  if (microphone.isOpen && !answering && view?.type === "question" && endedAt !== null) link?.send({ do: "listen", number: view.number });
}

function hearing() {
  return by("hear")?.checked ?? false;
}

// --- answers -------------------------------------------------------------------------------------------

/** A choice was touched, or an item put into a slot ("item@slot"); `at` is when it was begun. */
function touched(value, at) {
  answer("touch", value, at);
}

async function answer(kind, value, at) {
  if (answering || view?.type !== "question" || !value.trim()) return;
  answering = true;
  audio.pause();
  link?.send({ do: "deaf" });
  const waited = Math.max(0, (at - (endedAt ?? at)) / 1000);
  const given = { number: view.number, token: token(), kind, value, response_s: waited };
  const reply = await ask(`${PATH}/answer`, given);
  answering = false;
  if (reply) take(reply);
}

function take(reply) {
  if (reply.type === "problem") return tell(reply.text);
  if (reply.stale || reply.number !== view?.number) return load();
  by("text").value = "";
  beganAt = null;
  if (reply.open) return stillOpen(reply);
  const right = reply.outcome === "right";
  const word = { right: words.right, wrong: words.wrong, aside: words.left_for_later }[reply.outcome] ?? "";
  readIt();
  const said = reply.said ? `${fill(words.answered, reply)} ` : "";
  wrong = reply.token;
  by("object").hidden = wrong === null;
  by("say").hidden = by("choose").disabled = true;
  by("onward").hidden = false;
  verdict(right ? "right" : reply.outcome === "aside" ? "again" : "wrong", word, said + reply.explain);
  markBoard(by("board"), reply);
  uncover(by("board").querySelector("[data-mark=right]"));
  by("next").focus();
  answering = true; // nothing more is taken for this question
  if (right) goOn = setTimeout(load, RIGHT_MS);
  else if (microphone.isOpen) goOn = setTimeout(load, WRONG_MS);
}

function stillOpen(reply) {
  if (view.drill === "lay" && reply.outcome !== "say again" && reply.outcome !== "repeat") {
    view.laid = reply.laid;
    view.left = reply.left;
    const focused = document.activeElement?.closest("#board") !== null;
    const along = by("board").querySelector(".pool").scrollLeft;
    by("board").replaceChildren(...drawBoard(view, trays, words, touched));
    by("board").querySelector(".pool").scrollLeft = along;
    if (focused) by("board").querySelector("button:not(:disabled)")?.focus({ preventScroll: true });
    verdict(reply.outcome === "right" ? "right" : "wrong", reply.outcome === "right" ? words.right : words.not_there, reply.explain);
    return ended();
  }
  if (reply.outcome === "repeat") {
    verdict("again", words.repeat, "");
    return speak();
  }
  verdict("again", words.again, reply.said ? `${fill(words.unclear, reply)} ${words.or_else}` : words.or_else);
  if (!microphone.isOpen) takeKeys();
  listen();
}

function verdict(outcome, word, explain) {
  by("verdict").dataset.outcome = outcome;
  by("verdict").replaceChildren(h("strong", {}, word), ...(explain ? [h("p", {}, explain)] : []));
}

/** The page as it stood, but for what the verdict would hide. */
function uncover(element) {
  const hidden = element === null ? 0 : element.getBoundingClientRect().bottom + 12 - by("verdict").getBoundingClientRect().top;
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  if (hidden > 0) scrollBy({ top: hidden, behavior: calm ? "auto" : "smooth" });
}

async function objectTo() {
  by("object").hidden = true;
  by("next").focus();
  const reply = await ask(`${PATH}/object`, { token: wrong });
  if (reply?.type === "problem") return tell(reply.text);
  if (reply) by("verdict").append(h("p", {}, words.objected));
}

// --- server --------------------------------------------------------------------------------------------

async function ask(path, given) {
  const said = await askServer(path, given, (text, gone) => tell(text, gone ? "/practice" : undefined));
  if (said && said.type !== "problem") by("problem").hidden = true;
  return said;
}

function tell(text, href) {
  by("problem").replaceChildren(text, ...(href ? [" ", h("a", { href }, "To practice")] : []));
  by("problem").hidden = false;
}

// --- the microphone ------------------------------------------------------------------------------------

const microphone = new Microphone({
  onsound: (pcm) => link?.sound(pcm),
  onlevel: () => {},
  onlost: () => shut("The microphone was unplugged."),
});

function connect() {
  link ??= new Link(`${PATH}/live`, {
    message: (message) => {
      if (message.type === "ear") {
        by("ear").dataset.state = message.state;
        by("ear").textContent = EARS[message.state] ?? "";
      } else if (message.type === "problem") {
        tell(message.text);
        listen();
      } else if (!answering) take(message);
    },
    up: listen,
    down: (why) => {
      by("ear").textContent = "";
      if (why === "gone") load();
    },
  });
}

async function toggle() {
  if (microphone.isOpen) return shut();
  try {
    await microphone.open(true);
  } catch (error) {
    if (!(error instanceof NoSound)) throw error;
    return tell(error.message);
  }
  by("mic").setAttribute("aria-pressed", "true");
  by("mic").textContent = "Close the microphone";
  connect();
  if (!answering) listen();
}

function shut(why) {
  microphone.close();
  link?.send({ do: "deaf" });
  by("mic").setAttribute("aria-pressed", "false");
  by("mic").textContent = "Open the microphone";
  by("ear").textContent = "";
  if (why) tell(why);
}

// --- the end -------------------------------------------------------------------------------------------

function finish() {
  shut();
  for (const id of ["ask", "board", "dock"]) by(id).hidden = true;
  document.querySelector(".drill-bar").hidden = true;
  by("summary").replaceChildren(...drawSummary(view, words));
  by("summary").hidden = false;
  by("summary").querySelector("h1").focus();
}

by("say").addEventListener("submit", (event) => {
  event.preventDefault();
  answer("text", by("text").value, beganAt ?? performance.now());
});
by("text").addEventListener("input", () => (beganAt ??= performance.now()));
addEventListener("keydown", (event) => {
  const elsewhere = event.target instanceof HTMLInputElement || event.ctrlKey || event.altKey || event.metaKey;
  if (elsewhere || event.key.length !== 1 || answering || view?.type !== "question") return;
  const chosen = numbered(by("board"))[Number(event.key) - 1];
  if (chosen) chosen.click();
  else if (/[\p{L}\d]/u.test(event.key) && !by("say").hidden) by("text").focus();
});
by("choose").addEventListener("click", toggleChoosing);
by("unknown").addEventListener("click", () => answer("text", words.dont_know, performance.now()));
by("next").addEventListener("click", load);
by("object").addEventListener("click", objectTo);
by("mic").addEventListener("click", toggle);
by("reveal").addEventListener("click", readIt);
by("stop").addEventListener("click", async () => {
  const summary = await ask(`${PATH}/stop`, {});
  if (summary?.type === "problem") return tell(summary.text, "/practice");
  if (summary) show(summary);
});
if (by("hear")) {
  by("hear").checked = kept("practice.hear", "no") === "yes";
  by("hear").addEventListener("change", () => {
    keep("practice.hear", hearing() ? "yes" : "no");
    audio.pause();
    if (hearing() && view?.type === "question" && !answering) speak();
  });
}
load();
