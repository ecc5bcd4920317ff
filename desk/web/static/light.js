// The light that this browser was given, before anything is drawn; and the place to choose it.
"use strict";

const chosen = localStorage.getItem("light");
if (chosen) document.documentElement.dataset.light = chosen;

document.addEventListener("DOMContentLoaded", () => {
  const select = document.getElementById("light");
  if (!select) return;
  select.value = chosen ?? "";
  select.addEventListener("change", () => {
    localStorage.setItem("light", select.value);
    if (select.value) document.documentElement.dataset.light = select.value;
    else delete document.documentElement.dataset.light;
  });
});
