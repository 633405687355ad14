// Package follow follows a capture while it is being heard: what the times are now, and how they have run
// since the start, one pass and bounded memory.
//
// It is a quick look for the eye and for steps: plain means of the pulses of a second or so, odd ones left
// out. What the whole capture says, with its full uncertainty, package measure says.
package follow
