// Letting go of every paired phone.
"use strict";

import { send } from "./desk.js";

document.getElementById("forget").addEventListener("click", async () => {
  const say = document.getElementById("forgot");
  try {
    const { phones } = await send("/pair/forget", {});
    say.textContent = `${phones} forgotten: each needs a new link.`;
  } catch (problem) {
    say.textContent = problem.message;
  }
});
