// What the page holds: the state as it is now, and those before and after it. A state is never changed, only followed by
// another, so that every step can be undone.

const text = s => JSON.stringify(s);
const kept = s => text([s.design, s.evidence, s.lot]); // what a file holds

export class History {
  #past = [];
  #future = [];
  #kept; // what the file holds
  constructor(state, saved) {
    this.now = state;
    this.#kept = saved ? kept(state) : null;
  }
  // step goes on to a new state; false: it is the same.
  step(state) {
    if (text(state) === text(this.now)) return false;
    this.#past.push(this.now);
    this.#future = [];
    this.now = state;
    return true;
  }
  undo() {
    if (!this.#past.length) return false;
    this.#future.push(this.now);
    this.now = this.#past.pop();
    return true;
  }
  redo() {
    if (!this.#future.length) return false;
    this.#past.push(this.now);
    this.now = this.#future.pop();
    return true;
  }
  // saved says that the file now holds this state, with the names that captures have there. An undo afterwards leads to
  // states that name them as they were named then; their files are the same.
  saved(state) {
    this.now = state;
    this.#kept = kept(state);
  }
  get unsaved() { return kept(this.now) !== this.#kept && (this.now.design !== "" || this.now.evidence.length > 0); }
  get canUndo() { return this.#past.length > 0; }
  get canRedo() { return this.#future.length > 0; }
}
