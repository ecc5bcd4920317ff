// Marking other words of a memo than those that a value was read from.
"use strict";

/** The marked words of the current draft's memo. `where` gives [memo, draft], `tell` shows a line. */
export class Marks {
  constructor(where, tell) {
    this.where = where;
    this.tell = tell;
    this.ends = null; // [where it began, where it is]
    document.querySelectorAll(".words").forEach((list) => list.addEventListener("click", (event) => this.clicked(event)));
  }

  clear() {
    this.ends = null;
    document.querySelectorAll(".words .chosen").forEach((word) => word.classList.remove("chosen"));
  }

  /** Move the mark by a word; `widen` keeps where it began. The first move sets it on the value. */
  move(by, widen) {
    const [memo, draft] = this.where();
    if (!memo?.words.length) return;
    if (this.ends) this.put(this.ends[1] + by, widen);
    else this.put(Math.max(0, memo.words.indexOf(memo.span(draft.start, draft.end)[0])), false);
  }

  clicked(event) {
    const [memo] = this.where();
    const at = memo?.words.indexOf(event.target.closest("span")) ?? -1;
    if (at >= 0) this.put(at, event.shiftKey);
  }

  put(at, widen) {
    const [memo] = this.where();
    const to = Math.max(0, Math.min(memo.words.length - 1, at));
    this.ends = [widen && this.ends ? this.ends[0] : to, to];
    const [a, b] = [...this.ends].sort((x, y) => x - y);
    memo.words.forEach((word, i) => word.classList.toggle("chosen", i >= a && i <= b));
    this.tell("Left and right move the mark, with shift they widen it; T reads the marked words.");
  }

  /** Give the marked words, or "". */
  words() {
    const [memo] = this.where();
    if (!memo || !this.ends) return "";
    const [a, b] = [...this.ends].sort((x, y) => x - y);
    return memo.words.slice(a, b + 1).map((word) => word.textContent).join(" ");
  }
}
