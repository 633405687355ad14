// Package ledger keeps every board's result: what was measured when, where and by whom, from which raw file (by
// its SHA-256), against which design, with which version of the program and which options; what was decided on its lot;
// and what a repair found.
//
// A result's key is a digest of all that makes it what it is: board, lot, design, version, options, and each capture's
// bytes and conditions. The same key is the same result, so that a run that is repeated adds nothing twice; anything else
// is another result of the board, and both stay. The newest one is the current one and supersedes the others. A board that
// stands out from its lot gets a second result once all are known: what sets it apart from the others, in place of the cause
// that its own times name; when it no longer stands out, its own result stands again.
package ledger
