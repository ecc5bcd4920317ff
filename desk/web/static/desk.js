// What every page shares: who is deciding, and the one way to send a change.
"use strict";

const token = document.querySelector("meta[name=token]").content;

export const who = document.getElementById("who");

if (who) {
  who.value = localStorage.getItem("who") || "";
  who.addEventListener("change", () => localStorage.setItem("who", who.value.trim()));
  document.getElementById("person").addEventListener("submit", (event) => {
    event.preventDefault();
    localStorage.setItem("who", who.value.trim());
    who.blur();
  });
}

/** Send a change; gives the answer's object, or throws an Error whose message a person can read. */
export async function send(url, body, options = {}) {
  const raw = body instanceof Blob;
  let answer;
  try {
    answer = await fetch(url, {
      method: "POST",
      ...options,
      headers: { "x-cowlnote-token": token, ...(raw ? {} : { "content-type": "application/json" }), ...options.headers },
      body: raw ? body : JSON.stringify(body ?? {}),
    });
  } catch {
    throw new Error("The desk does not answer; nothing was changed. Is it still running?");
  }
  const type = answer.headers.get("content-type") || "";
  if (!answer.ok) {
    const words = type.startsWith("text/plain") ? await answer.text() : "";
    throw Object.assign(new Error(words || `The desk refused (${answer.status}).`), { final: answer.status < 500 });
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
