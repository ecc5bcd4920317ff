// What every page shares: who is deciding, whether the letter keys are on, and the one way to send a change.
"use strict";

const token = document.querySelector("meta[name=token]").content;

export const who = document.getElementById("who");

function named() {
  localStorage.setItem("who", who.value.trim());
  document.dispatchEvent(new Event("named"));
}

if (who) {
  who.value = localStorage.getItem("who") || "";
  who.addEventListener("change", named);
  document.getElementById("person").addEventListener("submit", (event) => {
    event.preventDefault();
    named();
    who.blur();
  });
}

/** Give the letter that was pressed as a command, or "" where it is writing, or the keys are off. */
export function command(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, select, textarea")) return "";
  if (["Enter", " "].includes(event.key) && event.target.closest("a, button, summary")) return "";
  if (localStorage.getItem("letters") === "off") return "";
  return event.key.length === 1 ? event.key.toLowerCase() : event.key;
}

/** Send a change; gives the answer's object, or throws an Error whose message a person can read. */
export async function send(url, body, options = {}) {
  const raw = body instanceof Blob;
  return answered(await reach(url, {
    method: "POST",
    ...options,
    headers: { "x-cowlnote-token": token, ...(raw ? {} : { "content-type": "application/json" }), ...options.headers },
    body: raw ? body : JSON.stringify(body ?? {}),
  }));
}

/** Ask for an object; throws as `send` does. */
export async function ask(url, options = {}) {
  return answered(await reach(url, options));
}

async function reach(url, options) {
  try {
    return await fetch(url, options);
  } catch {
    throw new Error("The desk does not answer. Is it still running? What is shown here may not have reached it.");
  }
}

async function answered(answer) {
  const type = answer.headers.get("content-type") || "";
  if (!answer.ok) {
    const told = type.startsWith("application/json") ? await answer.json() : {};
    const words = type.startsWith("text/plain") ? await answer.text() : told.words;
    const gone = [403, 404].includes(answer.status);
    const problem = new Error(words || (gone ? "The desk was started anew: open its page by a new link." : `The desk refused (${answer.status}).`));
    throw Object.assign(problem, { told, status: answer.status, final: answer.status < 500 });
  }
  return type.startsWith("application/json") ? answer.json() : null;
}

/** Make an element: make("li", {class: "x"}, "text", child). */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}
