// The drill page: shows questions, takes answers by voice, touch or typing, and measures how long they took.

import { Desk, SpokenAnswers, play } from "./answering.js";
import { fill, h, keep, kept, picture } from "./dom.js";
import { drawBoard, markBoard, numbered } from "./practice-board.js";
import { Story, readingTime } from "./practice-story.js";
import { drawSummary } from "./practice-summary.js";
import { token } from "./server.js";

const PATH = `/practice/${document.body.dataset.place}`;
const RIGHT_MS = 1500;
const WRONG_MS = 9000; // hands-free only: time to hear or read the difference
const REQUESTS = ["slot", "apart"]; // drills that are asked as a dentist asks, so that hearing comes first

const by = (id) => document.getElementById(id);
const trays = JSON.parse(by("trays").textContent);
const words = JSON.parse(by("words").textContent); // what is asked and told, in the pack's language
const audio = new Audio();
const desk = new Desk({ href: "/practice", text: "To practice" });
const story = new Story(by("story-lines"));

let view = null;
let endedAt = null; // when the question ended, ms
let beganAt = null; // when the answer in the field was begun, ms
let answering = false;
let goOn = 0;
let wrong = null; // the token of the answer that was last marked wrong

// --- questions -----------------------------------------------------------------------------------------

async function load() {
  clearTimeout(goOn);
  const next = await desk.ask(`${PATH}/now${choosing() ? "?choose=yes" : ""}`, undefined, true);
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
  by("kind").textContent = [words.kinds[view.drill] ?? "", view.procedure].filter(Boolean).join(" · ");
  by("picture").replaceChildren(...(view.picture === null ? [] : [picture(view.picture)]));
  by("as-it-came").hidden = !view.as_it_came;
  by("text").value = "";
  by("text").placeholder = view.drill === "lay" ? words.type_placing : words.type_answer;
  by("say").hidden = by("story-way").disabled = by("text").disabled = by("give").disabled = false;
  document.body.dataset.story = "none";
  document.body.dataset.drill = view.drill;
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
  const next = choosing() ? await desk.ask(`${PATH}/now?choose=yes`) : { ...view, choices: [] };
  if (next?.number !== view.number || answering) return;
  view = { ...view, choices: next.choices };
  drawAll();
  takeKeys();
}

/** Read the question out, if that is wanted; it ends when the sound does. */
async function speak() {
  const number = view.number;
  endedAt = null;
  ear.deaf();
  story.stop();
  by("story").hidden = view.story.length === 0;
  if (view.story.length) return tellStory(view);
  const heard = hearing() && REQUESTS.includes(view.drill);
  if (heard) by("prompt").textContent = words.listen;
  else readIt();
  by("reveal-line").hidden = !heard;
  if (hearing()) {
    try {
      const reply = await fetch(`${PATH}/say?n=${number}`);
      if (reply.status === 200 && view.number === number) await play(audio, await reply.blob());
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

/** Play what was asked for so far, or show it; then the story stops, and what comes next is asked. */
async function tellStory(asked) {
  let written = by("story").dataset.voice !== "yes" || kept("practice.story", "heard") === "written";
  stage(written ? "told" : "playing", asked);
  if (!written) {
    const came = await story.play(asked.story.length, (line) => `${PATH}/say?n=${asked.number}&line=${line}`);
    if (came === "stopped" || view !== asked || answering) return;
    if (came === "blocked") return stage("waiting", asked);
    written = came === "unspoken";
    by("story-unspoken").hidden = !written;
  }
  if (written) story.write(asked.story);
  stage("told", asked);
  ended(written ? readingTime(asked.story) : 0);
}

/** How far a story is: "playing", "waiting" (to be played) or "told". Only then answers are taken. */
function stage(now, asked) {
  document.body.dataset.story = now;
  by("prompt").textContent = now === "told" ? asked.prompt : words.listen;
  by("text").disabled = by("give").disabled = now !== "told";
  const speaks = by("story").dataset.voice === "yes";
  const read = kept("practice.story", "heard") === "written";
  by("story-again").textContent = now === "waiting" ? words.story_play : words.story_again;
  by("story-again").hidden = !speaks || read;
  by("story-again").disabled = now === "playing";
  by("story-way").hidden = !speaks;
  by("story-way").textContent = read ? words.story_hear : words.story_read;
}

/** The question has ended; `later_ms` is for reading it first. */
function ended(later_ms = 0) {
  endedAt = performance.now() + later_ms;
  ear.listen();
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
  story.stop();
  ear.deaf();
  const waited = Math.max(0, (at - (endedAt ?? at)) / 1000);
  const given = { number: view.number, token: token(), kind, value, response_s: waited };
  const reply = await desk.ask(`${PATH}/answer`, given);
  answering = false;
  if (reply) take(reply);
}

function take(reply) {
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
  const heard = view.story.length && by("story-lines").dataset.way === "heard";
  const was = heard ? [h("p", {}, [words.story_was, ...view.story.map((line) => `“${line}”`)].join(" "))] : [];
  by("story-again").disabled = by("story-way").disabled = true;
  verdict(right ? "right" : reply.outcome === "aside" ? "again" : "wrong", word, said + reply.explain, ...was);
  markBoard(by("board"), reply);
  uncover(by("board").querySelector("[data-mark=right]"));
  by("next").focus();
  answering = true; // nothing more is taken for this question
  if (right) goOn = setTimeout(load, RIGHT_MS);
  else if (ear.isOpen) goOn = setTimeout(load, WRONG_MS);
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
  if (!ear.isOpen) takeKeys();
  ear.listen();
}

function verdict(outcome, word, explain, ...more) {
  by("verdict").dataset.outcome = outcome;
  by("verdict").replaceChildren(h("strong", {}, word), ...(explain ? [h("p", {}, explain)] : []), ...more);
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
  const reply = await desk.ask(`${PATH}/object`, { token: wrong });
  if (reply) by("verdict").append(h("p", {}, words.objected));
}

// --- spoken answers ------------------------------------------------------------------------------------

const ear = new SpokenAnswers(`${PATH}/live`, {
  asked: () => (!answering && view?.type === "question" && endedAt !== null ? view.number : null),
  answer: (reply) => {
    if (!answering) take(reply);
  },
  state: () => {},
  problem: (text) => desk.tell(text),
  opened: (open) => (by("mic").textContent = open ? "Close the microphone" : "Open the microphone"),
  gone: load,
});

// --- the end -------------------------------------------------------------------------------------------

function finish() {
  ear.shut();
  for (const id of ["ask", "story", "board", "dock"]) by(id).hidden = true;
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
  if (elsewhere || event.key.length !== 1 || answering || view?.type !== "question" || endedAt === null && view.story.length) return;
  const chosen = numbered(by("board"))[Number(event.key) - 1];
  if (chosen) chosen.click();
  else if (/[\p{L}\d]/u.test(event.key) && !by("say").hidden) by("text").focus();
});
by("choose").addEventListener("click", toggleChoosing);
by("unknown").addEventListener("click", () => answer("text", words.dont_know, performance.now()));
by("next").addEventListener("click", load);
by("object").addEventListener("click", objectTo);
by("reveal").addEventListener("click", readIt);
by("story-again").addEventListener("click", () => {
  if (document.body.dataset.story === "waiting") speak();
  else answer("text", words.story_ask_again, performance.now());
});
by("story-way").addEventListener("click", () => {
  keep("practice.story", kept("practice.story", "heard") === "written" ? "heard" : "written");
  if (view?.story?.length && !answering) speak();
});
by("stop").addEventListener("click", async () => {
  const summary = await desk.ask(`${PATH}/stop`, {}, true);
  if (summary) show(summary);
});
if (by("hear")) {
  by("hear").checked = kept("practice.hear", "no") === "yes";
  by("hear").addEventListener("change", () => {
    keep("practice.hear", hearing() ? "yes" : "no");
    audio.pause();
    if (hearing() && view?.type === "question" && !view.story.length && !answering) speak();
  });
}
load();
