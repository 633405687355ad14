// Package quantity reads and prints values with their unit and tolerance: what a schematic, a part's
// marking or a meter says. It holds the only table of units and the only table of prefixes.
//
// A quantity is
//
//	value [prefix] [unit] [tolerance] [(k=2)]
//
// The value is a decimal number ("4.7", "4,7", "1e-7") or, for resistors and capacitors, an IEC 60062 code
// whose letter stands for the decimal point ("4k7", "R47", "n22", "1u0"). The tolerance follows "±", "+-",
// "+/-" or ":" and is a percentage, ppm, an absolute value in the same unit, or an IEC 60062 letter; a
// letter may also follow the value directly ("4k7 J", "100n K"). "+80/-20 %" is an asymmetric tolerance.
// "(k=2)" says that the tolerance is an expanded uncertainty with that coverage factor (JCGM 100 6.2.1),
// hence normal; without it the tolerance is a pair of limits, hence rectangular (JCGM 100 4.3.7).
//
// What is read one way by some and another way by others is an error that says how to write either:
//
//   - "100n F" (100 nF, or 100 n with the tolerance letter F?); "100nF" is 100 nF.
//   - a bare number as a capacitor, "47"; but three digits whose last is not 0 are the marking's code, two
//     figures and a power of ten in pF: "104" is 100 nF. "100" is 10 pF by the code and 100 pF on some old
//     parts, so it is refused. A bare number as a resistor is in ohms.
//   - "1,000" (a decimal comma with three digits after it).
//   - a unit on the value and none on an absolute tolerance, or the reverse: "46.93k ± 0.2".
package quantity
