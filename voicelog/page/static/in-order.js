// What is said by hand reaches the log in the order it was said: each waits for the answer to the one before.

let before = Promise.resolve();

export function inOrder(saying) {
  before = before.then(saying);
  return before;
}
