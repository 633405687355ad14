// Package designfile turns a design file, or the flags that stand for one, into a fit.Design.
//
//  1. Read makes a list of entries of the file, FromFlags of the flags: a dotted key, the value as written,
//     and its place.
//  2. With both, a flag takes the place of the file's entry of the same key.
//  3. Build turns the entries into the design. Every fault is an *Error that names file, line and column, or
//     the flag, and shows the fault with a caret.
//
// The file is TOML. Where it is silent, Design.Notes says what was assumed:
//
//   - history: "new". timer.family: "bipolar". instrument.clock: "crystal".
//   - supply: 5 V ± 5 %; a supply with no tolerance: ± 5 %.
//   - a part with no tolerance: ± 5 % for a resistor, ± 10 % for a capacitor, ± 20 % for an electrolytic one
//     (common practice).
//   - a capacitor with no kind: the odds of a film capacitor.
//
// A tolerance in per cent is always relative to its value: duty_factor = "45 % ± 2 %" is 44.1 % … 45.9 %.
package designfile
